//! The local page: the router without a socket, the socket under pressure, and the page in a browser.

mod browser;
mod claims_and_logs;
mod devtools;
mod hot_day;
mod learning;
mod options;
mod router;
mod socket;
mod stopping;
mod studies;

use std::fs;
use std::net::{IpAddr, Ipv4Addr};
use std::path::PathBuf;
use std::sync::atomic::AtomicBool;
use std::sync::{Arc, Mutex};

use baysoak::sheet::builtins;
use baysoak::web::{Opened, Page, Reply, Request, Response, Sink};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};

const PORT: u16 = 8737;
const LOCAL: IpAddr = IpAddr::V4(Ipv4Addr::LOCALHOST);

fn demo() -> Opened {
    Opened {
        name: "demo.toml".to_owned(),
        text: builtins()[0].text.to_owned(),
    }
}

fn page() -> Page {
    Page::new(demo(), LOCAL, PORT)
}

/// A drive of 90 s, so that a test takes a moment.
const SHORT: &str = "time_s,speed_kmh\n0,0\n20,50\n60,90\n90,0\n";

/// A car on the short drive.
fn short_car() -> Value {
    json!({
        "sheet": {"name": "demo.toml", "text": demo().text},
        "log": {"name": "short.csv", "text": SHORT},
    })
}

fn get(path: &str) -> Request {
    Request {
        method: "GET".into(),
        path: path.into(),
        host: Some(format!("127.0.0.1:{PORT}")),
        ..Request::default()
    }
}

fn post(path: &str, body: &Value) -> Request {
    Request {
        method: "POST".into(),
        page: Some("test".into()),
        body: body.to_string().into_bytes(),
        ..get(path)
    }
}

#[track_caller]
fn whole(reply: Reply) -> Response {
    match reply {
        Reply::Whole(response) => response,
        Reply::Stream(..) => panic!("work instead of an answer"),
    }
}

/// The refusal of a request: its status and its JSON.
#[track_caller]
fn refused(page: &Page, request: &Request) -> (u16, Value) {
    let response = whole(page.answer(request));
    assert!(response.status >= 400, "{}", response.status);
    (
        response.status,
        serde_json::from_slice(&response.body).unwrap(),
    )
}

/// Runs a work to its end and gives its events: name and data.
#[track_caller]
fn events(reply: Reply) -> Vec<(String, String)> {
    let (work, stop) = match reply {
        Reply::Stream(work, stop) => (work, stop),
        Reply::Whole(r) => panic!("{}: {}", r.status, String::from_utf8_lossy(&r.body)),
    };
    read_events(&run_work(work, stop))
}

fn run_work(work: baysoak::web::Work, stop: Arc<AtomicBool>) -> String {
    let got = Arc::new(Mutex::new(String::new()));
    let kept = got.clone();
    let send = move |text: String| {
        kept.lock().unwrap().push_str(&text);
        true
    };
    work(&Sink::new(send, stop));
    got.lock().unwrap().clone()
}

/// Events of a stream.
fn read_events(stream: &str) -> Vec<(String, String)> {
    let blocks = stream.split("\n\n").filter(|b| !b.is_empty());
    blocks
        .map(|block| {
            let mut lines = block.split('\n');
            let name = lines.next().unwrap().strip_prefix("event: ").unwrap();
            let data: Vec<&str> = lines.map(|l| l.strip_prefix("data: ").unwrap()).collect();
            (name.to_owned(), data.join("\n"))
        })
        .collect()
}

/// Data of the last event of a name.
#[track_caller]
fn last<'e>(events: &'e [(String, String)], name: &str) -> &'e str {
    let found = events.iter().rev().find(|(n, _)| n == name);
    let names: Vec<&str> = events.iter().map(|(n, _)| n.as_str()).collect();
    &found
        .unwrap_or_else(|| panic!("no {name} among {names:?}"))
        .1
}

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

#[test]
fn vendored_files_are_what_the_list_says() {
    let mut seen = 0;
    for folder in ["src/web/assets/vendor", "tests/web/vendor"] {
        let folder = root().join(folder);
        let list = fs::read_to_string(folder.join("README.md")).unwrap();
        let rows = list
            .lines()
            .filter(|l| l.starts_with("| ") && l.contains('/'));
        for row in rows {
            let cells: Vec<&str> = row.split('|').map(str::trim).collect();
            let (file, sum) = (cells[1], cells[5]);
            let bytes = fs::read(folder.join(file)).unwrap();
            let own: String = Sha256::digest(&bytes)
                .iter()
                .map(|b| format!("{b:02x}"))
                .collect();
            assert_eq!(own, sum, "{file}");
            let beside = folder.join(file).with_file_name("LICENSE");
            assert!(beside.exists(), "{file} has no licence beside it");
            seen += 1;
        }
    }
    assert_eq!(seen, 3);
}
