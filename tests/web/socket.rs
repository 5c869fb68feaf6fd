//! The real socket: who is answered, what is too large or too slow, and a clean stop.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::process::{Command, Stdio};
use std::thread::JoinHandle;
use std::time::Duration;

use baysoak::web::server::{self, Bound};
use serde_json::{Value, json};
use tokio::sync::oneshot;

use super::{LOCAL, demo, read_events, short_car};

/// A server on a free port, stopped at the end of the test.
pub struct Serving {
    pub address: SocketAddr,
    stop: Option<oneshot::Sender<()>>,
    thread: Option<JoinHandle<std::io::Result<()>>>,
}

impl Serving {
    pub fn new() -> Self {
        Self::of(server::bind(demo(), LOCAL, 0).unwrap())
    }

    fn of(bound: Bound) -> Self {
        let address = bound.address();
        let (stop, stopped) = oneshot::channel::<()>();
        let thread = std::thread::spawn(move || {
            bound.run(async {
                let _ = stopped.await;
            })
        });
        Self {
            address,
            stop: Some(stop),
            thread: Some(thread),
        }
    }

    /// Stops it and waits for its thread.
    pub fn stop(&mut self) {
        if let (Some(stop), Some(thread)) = (self.stop.take(), self.thread.take()) {
            let _ = stop.send(());
            thread.join().unwrap().unwrap();
        }
    }

    fn connect(&self) -> TcpStream {
        let stream = TcpStream::connect(self.address).unwrap();
        // far beyond any time the server gives: a hang fails, slowness does not
        stream
            .set_read_timeout(Some(Duration::from_secs(120)))
            .unwrap();
        stream
    }

    /// Sends raw bytes and reads until the other side closes.
    fn exchange(&self, bytes: &[u8]) -> String {
        let mut stream = self.connect();
        // a refusal may come before all is sent
        let _ = stream.write_all(bytes);
        let mut got = Vec::new();
        let _ = stream.read_to_end(&mut got);
        String::from_utf8_lossy(&got).into_owned()
    }

    fn head(&self, first: &str, more: &str) -> String {
        format!(
            "{first} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n{more}\r\n",
            self.address
        )
    }

    /// What a page sends to study a car.
    fn study(&self, page: &str, car: &Value) -> String {
        let body = car.to_string();
        let more = format!(
            "X-Baysoak-Page: {page}\r\nContent-Length: {}\r\n",
            body.len()
        );
        self.head("POST /api/study", &more) + &body
    }

    /// Asks for a study and reads no further than the status; the stream stays open.
    fn begin_study(&self, page: &str, car: &Value) -> (String, TcpStream) {
        let mut stream = self.connect();
        stream.write_all(self.study(page, car).as_bytes()).unwrap();
        let mut first = [0; 12];
        stream.read_exact(&mut first).unwrap();
        let status = String::from_utf8_lossy(&first).into_owned();
        let status = status.strip_prefix("HTTP/1.1 ").unwrap();
        (status.to_owned(), stream)
    }
}

impl Drop for Serving {
    fn drop(&mut self) {
        self.stop();
    }
}

fn status(answer: &str) -> &str {
    answer.split(' ').nth(1).unwrap_or("nothing")
}

#[test]
fn the_page_comes_with_a_policy_and_works_alone() {
    let serving = Serving::new();
    let answer = serving.exchange(serving.head("GET /", "").as_bytes());
    assert_eq!(status(&answer), "200");
    let lower = answer.to_lowercase();
    assert!(lower.contains("content-security-policy: default-src 'none'"));
    assert!(lower.contains("x-content-type-options: nosniff"));
    assert!(answer.contains("<title>baysoak</title>"));
    let head = serving.exchange(serving.head("HEAD /app.js", "").as_bytes());
    assert_eq!(status(&head), "200");
    assert!(head.ends_with("\r\n\r\n"));
}

#[test]
fn foreign_names_and_paths_get_nothing() {
    let serving = Serving::new();
    let foreign = "GET / HTTP/1.1\r\nHost: evil.example\r\nConnection: close\r\n\r\n";
    assert_eq!(status(&serving.exchange(foreign.as_bytes())), "403");
    let none = "GET / HTTP/1.0\r\n\r\n";
    assert_eq!(status(&serving.exchange(none.as_bytes())), "403");
    for path in [
        "/../../etc/passwd",
        "/%2e%2e/%2e%2e/etc/passwd",
        "/vendor/..%2f..%2fCargo.toml",
    ] {
        let answer = serving.exchange(serving.head(&format!("GET {path}"), "").as_bytes());
        assert_eq!(status(&answer), "404", "{path}");
    }
    let cross = serving.head(
        "POST /api/check",
        "Origin: http://evil.example\r\nX-Baysoak-Page: x\r\nContent-Length: 2\r\n",
    );
    assert_eq!(
        status(&serving.exchange(format!("{cross}{{}}").as_bytes())),
        "403"
    );
    let plain = serving.head(
        "POST /api/check",
        "Content-Type: text/plain\r\nContent-Length: 2\r\n",
    );
    assert_eq!(
        status(&serving.exchange(format!("{plain}{{}}").as_bytes())),
        "403"
    );
    let rubbish = serving.exchange(b"\x16\x03\x01\x02\x00\x01\x00\r\n\r\n");
    assert!(!rubbish.contains("200"), "{rubbish}");
}

#[test]
fn a_body_without_end_is_cut_off() {
    let serving = Serving::new();
    let head = serving.head(
        "POST /api/check",
        "X-Baysoak-Page: x\r\nTransfer-Encoding: chunked\r\n",
    );
    let mut stream = serving.connect();
    stream.write_all(head.as_bytes()).unwrap();
    let mut chunk = b"100000\r\n".to_vec();
    chunk.extend(std::iter::repeat_n(b' ', 0x10_0000));
    chunk.extend(b"\r\n");
    for _ in 0..40 {
        if stream.write_all(&chunk).is_err() {
            break;
        }
    }
    let mut first = [0; 12];
    // the refusal may be lost when the rest of the body is thrown away with the connection
    if stream.read_exact(&mut first).is_ok() {
        assert_eq!(&first, b"HTTP/1.1 413");
    }
    let answer = serving.exchange(serving.head("GET /", "").as_bytes());
    assert_eq!(status(&answer), "200");
}

#[test]
fn a_head_without_end_is_cut_off() {
    let serving = Serving::new();
    let mut stream = serving.connect();
    stream.write_all(b"GET / HTTP/1.1\r\n").unwrap();
    let line = format!("x-long: {}\r\n", "y".repeat(1000));
    for _ in 0..1000 {
        if stream.write_all(line.as_bytes()).is_err() {
            break;
        }
    }
    let mut got = Vec::new();
    let _ = stream.read_to_end(&mut got);
    assert!(!String::from_utf8_lossy(&got).contains(" 200 "));
}

#[test]
fn many_silent_and_slow_connections_do_not_hold_it_up() {
    let serving = Serving::new();
    let mut held: Vec<TcpStream> = (0..160).map(|_| serving.connect()).collect();
    for (i, stream) in held.iter_mut().enumerate() {
        if i % 2 == 0 {
            stream
                .write_all(b"POST /api/check HTTP/1.1\r\nHost: ")
                .unwrap();
        }
    }
    let answer = serving.exchange(serving.head("GET /api/lists", "").as_bytes());
    assert_eq!(status(&answer), "200");
}

#[test]
fn a_study_over_the_socket_is_the_study_of_the_router() {
    let serving = Serving::new();
    let answer = serving.exchange(serving.study("x", &short_car()).as_bytes());
    assert_eq!(status(&answer), "200");
    let (_, chunks) = answer.split_once("\r\n\r\n").unwrap();
    let stream = unchunked(chunks);
    let over_socket: Vec<_> = read_events(&stream)
        .into_iter()
        .filter(|(n, _)| n != "progress")
        .collect();
    let direct = super::events(super::page().answer(&super::post("/api/study", &short_car())));
    let direct: Vec<_> = direct
        .into_iter()
        .filter(|(n, _)| n != "progress")
        .collect();
    assert_eq!(over_socket, direct);
}

/// Body of an answer in chunks.
fn unchunked(mut text: &str) -> String {
    let mut out = String::new();
    while let Some((size, rest)) = text.split_once("\r\n") {
        let size = usize::from_str_radix(size, 16).unwrap();
        out.push_str(&rest[..size]);
        text = rest[size..].trim_start_matches("\r\n");
    }
    out
}

#[test]
fn the_stop_ends_streams_that_are_open() {
    let mut serving = Serving::new();
    let mut car = short_car();
    car["draws"] = json!(5000);
    let (status, mut stream) = serving.begin_study("x", &car);
    assert_eq!(status, "200");
    serving.stop();
    // the other end sees the end of the connection
    let _ = stream.read_to_end(&mut Vec::new());
}

#[test]
fn pages_that_leave_make_room_for_others() {
    let serving = Serving::new();
    // each would take minutes
    let ask = |page: usize| {
        let mut car = short_car();
        car["draws"] = json!(10_000);
        serving.begin_study(&format!("page-{page}"), &car)
    };
    let mut open: Vec<_> = (0..6).map(ask).collect();
    assert!(open.iter().all(|(status, _)| status == "200"));
    assert_eq!(ask(6).0, "503");
    // one leaves, and what ran for it ends soon
    open.pop();
    let room = (0..600).any(|_| {
        std::thread::sleep(Duration::from_millis(100));
        ask(7).0 == "200"
    });
    assert!(room, "the work of a page that left goes on");
}

#[test]
fn a_taken_port_gives_the_next() {
    let first = server::bind(demo(), LOCAL, 0).unwrap();
    let taken = first.address().port();
    if taken > u16::MAX - 20 {
        return;
    }
    let second = server::bind(demo(), LOCAL, taken).unwrap();
    assert!(second.address().port() > taken);
    assert!(
        server::bind(demo(), "192.0.2.1".parse().unwrap(), 0).is_err(),
        "not an address of this computer"
    );
}

/// The program as a person starts it, with what it says first.
fn program(arguments: &[&str]) -> (std::process::Child, String) {
    let mut child = Command::new(env!("CARGO_BIN_EXE_baysoak"))
        .arg("serve")
        .args(arguments)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut line = String::new();
    BufReader::new(child.stdout.as_mut().unwrap())
        .read_line(&mut line)
        .unwrap();
    (child, line.trim().to_owned())
}

#[cfg(unix)]
#[test]
fn the_program_prints_its_address_and_stops_on_ctrl_c() {
    let (mut child, line) = program(&["--port", "0"]);
    let address = line.strip_prefix("http://").unwrap().trim_end_matches('/');
    assert!(address.starts_with("127.0.0.1:"), "{line}");
    let mut stream = TcpStream::connect(address).unwrap();
    write!(
        stream,
        "GET / HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n"
    )
    .unwrap();
    let mut answer = String::new();
    stream.read_to_string(&mut answer).unwrap();
    assert_eq!(status(&answer), "200");
    let told = Command::new("kill")
        .args(["-INT", &child.id().to_string()])
        .status()
        .unwrap();
    assert!(told.success());
    assert_eq!(child.wait().unwrap().code(), Some(0));
}

#[test]
fn another_address_is_warned_of() {
    let (mut child, line) = program(&["--port", "0", "--address", "0.0.0.0"]);
    assert!(line.starts_with("http://0.0.0.0:"), "{line}");
    child.kill().unwrap();
    let mut said = String::new();
    child
        .stderr
        .take()
        .unwrap()
        .read_to_string(&mut said)
        .unwrap();
    child.wait().unwrap();
    assert!(
        said.contains("warning: anyone who reaches this computer"),
        "{said}"
    );
}

#[test]
fn a_sheet_that_is_not_there_is_bad_input() {
    let out = Command::new(env!("CARGO_BIN_EXE_baysoak"))
        .args(["serve", "no-such.toml"])
        .output()
        .unwrap();
    assert_eq!(out.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&out.stderr).contains("no-such.toml: can't read"));
}
