//! A headless Chromium, driven over its debugging pipe.

use std::fs::{self, File, OpenOptions};
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

use serde_json::{Value, json};
use tempfile::TempDir;

/// Longest wait for the browser's word; far beyond any slowness, so that only a hang fails.
const PATIENCE: Duration = Duration::from_secs(180);

pub struct Browser {
    child: Child,
    to: File,
    from: Receiver<Value>,
    last_id: u64,
    session: Option<String>,
    /// What went wrong in the page: exceptions and refused loads.
    pub faults: Vec<String>,
    _folder: TempDir,
}

impl Browser {
    /// Starts Chromium; `None` where there is none.
    pub fn start() -> Option<Self> {
        let program = ["/usr/bin/chromium", "/usr/bin/chromium-browser"]
            .into_iter()
            .find(|p| Path::new(p).exists())?;
        let folder = tempfile::tempdir().unwrap();
        let (to, from) = (folder.path().join("to"), folder.path().join("from"));
        let made = Command::new("mkfifo").args([&to, &from]).status().ok()?;
        if !made.success() {
            return None;
        }
        // the pipe is handles 3 and 4 of the browser, which a shell can give it
        let child = Command::new("sh")
            .args(["-c", "exec \"$0\" \"$@\" 3<\"$TO\" 4>\"$FROM\"", program])
            .args([
                "--headless",
                "--no-sandbox",
                "--disable-gpu",
                "--hide-scrollbars",
                "--remote-debugging-pipe",
            ])
            .arg(format!(
                "--user-data-dir={}",
                folder.path().join("profile").display()
            ))
            .arg("about:blank")
            .env("TO", &to)
            .env("FROM", &from)
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .ok()?;
        let to = OpenOptions::new().write(true).open(&to).unwrap();
        let reader = BufReader::new(File::open(&from).unwrap());
        let (sender, from) = channel();
        std::thread::spawn(move || {
            for message in reader.split(0).map_while(Result::ok) {
                let value = serde_json::from_slice(&message).unwrap();
                if sender.send(value).is_err() {
                    break;
                }
            }
        });
        let mut browser = Self {
            child,
            to,
            from,
            last_id: 0,
            session: None,
            faults: Vec::new(),
            _folder: folder,
        };
        let target = browser.call("Target.createTarget", json!({"url": "about:blank"}));
        let attach = json!({"targetId": target["targetId"], "flatten": true});
        let session = browser.call("Target.attachToTarget", attach);
        browser.session = session["sessionId"].as_str().map(str::to_owned);
        for domain in ["Page", "Runtime", "Log"] {
            browser.call(&format!("{domain}.enable"), json!({}));
        }
        Some(browser)
    }

    /// A command and its result.
    pub fn call(&mut self, method: &str, params: Value) -> Value {
        self.last_id += 1;
        let mut message = json!({"id": self.last_id, "method": method, "params": params});
        if let Some(session) = &self.session {
            message["sessionId"] = session.clone().into();
        }
        let mut bytes = message.to_string().into_bytes();
        bytes.push(0);
        self.to.write_all(&bytes).unwrap();
        loop {
            let said = self.from.recv_timeout(PATIENCE).unwrap();
            if said["id"] == self.last_id {
                assert!(said["error"].is_null(), "{method}: {}", said["error"]);
                return said["result"].clone();
            }
            match said["method"].as_str() {
                Some("Runtime.exceptionThrown") => self.faults.push(said["params"].to_string()),
                Some("Log.entryAdded") if said["params"]["entry"]["level"] == "error" => {
                    self.faults.push(said["params"]["entry"].to_string());
                }
                _ => {}
            }
        }
    }

    /// Value of a script in the page.
    pub fn eval(&mut self, script: &str) -> Value {
        let params = json!({"expression": script, "awaitPromise": true, "returnByValue": true});
        let said = self.call("Runtime.evaluate", params);
        assert!(
            said["exceptionDetails"].is_null(),
            "{script}: {}",
            said["exceptionDetails"]
        );
        said["result"]["value"].clone()
    }

    /// Waits until a script gives true.
    pub fn wait_for(&mut self, script: &str) {
        let step = Duration::from_millis(100);
        let steps = PATIENCE.as_millis() / step.as_millis();
        for _ in 0..steps {
            if self.eval(script) == true {
                return;
            }
            std::thread::sleep(step);
        }
        let state = self.eval("document.body.innerText.slice(0, 1500)");
        panic!(
            "{script} never came true; faults {:?}; page: {state}",
            self.faults
        );
    }

    /// A window of a size, light or dark.
    pub fn window(&mut self, width: u32, height: u32, dark: bool) {
        let size = json!({"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 500});
        self.call("Emulation.setDeviceMetricsOverride", size);
        let scheme = if dark { "dark" } else { "light" };
        let features = json!([{"name": "prefers-color-scheme", "value": scheme}]);
        self.call("Emulation.setEmulatedMedia", json!({"features": features}));
    }

    pub fn open(&mut self, address: &str) {
        self.call("Page.navigate", json!({"url": address}));
        self.wait_for("document.readyState === 'complete'");
    }

    /// Presses a key.
    pub fn press(&mut self, key: &str, code: u32) {
        for kind in ["keyDown", "keyUp"] {
            let press =
                json!({"type": kind, "key": key, "code": key, "windowsVirtualKeyCode": code});
            self.call("Input.dispatchKeyEvent", press);
        }
    }

    /// Puts texts into a file field.
    pub fn choose_files(&mut self, field: &str, files: &[(&str, &str)]) {
        let files = serde_json::to_string(files).unwrap();
        self.eval(&format!(
            "{{ const f = {field}, d = new DataTransfer();
                for (const [name, text] of {files}) d.items.add(new File([text], name));
                f.files = d.files; f.dispatchEvent(new Event('change', {{bubbles: true}})); }}"
        ));
    }

    /// The page as paper has it, or as the screen.
    pub fn print(&mut self, on: bool) {
        let media = if on { "print" } else { "screen" };
        self.call("Emulation.setEmulatedMedia", json!({"media": media}));
    }

    /// A picture of the whole page, when a folder for them is set.
    pub fn picture(&mut self, name: &str) {
        let Some(folder) = std::env::var_os("BAYSOAK_PICTURES") else {
            return;
        };
        // the bands have settled, or something is wrong
        self.wait_for("document.body.dataset.done !== undefined");
        let page = self.call("Page.getLayoutMetrics", json!({}));
        let (width, height) = (
            &page["cssContentSize"]["width"],
            &page["cssContentSize"]["height"],
        );
        let clip = json!({"x": 0, "y": 0, "width": width, "height": height, "scale": 1});
        let shot = self.call(
            "Page.captureScreenshot",
            json!({"format": "png", "captureBeyondViewport": true, "clip": clip}),
        );
        let path = Path::new(&folder).join(format!("{name}.png"));
        fs::write(path, decoded(shot["data"].as_str().unwrap())).unwrap();
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Base64 (RFC 4648) to bytes.
fn decoded(text: &str) -> Vec<u8> {
    const LETTERS: &[u8] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut out = Vec::new();
    let (mut bits, mut held) = (0_u32, 0);
    for letter in text.bytes().filter(|b| *b != b'=') {
        let value = LETTERS.iter().position(|l| *l == letter).unwrap();
        bits = (bits << 6) | value as u32;
        held += 6;
        if held >= 8 {
            held -= 8;
            out.push((bits >> held) as u8);
            bits &= (1 << held) - 1;
        }
    }
    out
}
