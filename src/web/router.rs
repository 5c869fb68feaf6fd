//! Request to reply, without a socket.

use std::borrow::Cow;
use std::net::IpAddr;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use serde::Serialize;
use serde::de::DeserializeOwned;

use super::asked::Refusal;
use super::assets::asset;
use super::jobs::{Jobs, Memory, Work};
use super::{hot_day, lists, logs, studies};

/// Largest body of a request, bytes: two days of logs at one row a second fit.
pub const LARGEST_BODY: usize = 24 * 1024 * 1024;
/// Header that the page puts on every POST: another site's page can't without being asked first.
pub const OWN_HEADER: &str = "x-baysoak-page";
/// What the page may load and do.
pub const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; \
     connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";
const JSON: &str = "application/json; charset=utf-8";
const TEXT: &str = "text/plain; charset=utf-8";

/// The sheet that the page starts with.
#[derive(Debug, Clone, Serialize)]
pub struct Opened {
    /// File name, for messages.
    pub name: String,
    /// Text.
    pub text: String,
}

/// A request as far as the page cares.
#[derive(Debug, Clone, Default)]
pub struct Request {
    /// Method.
    pub method: String,
    /// Path without the query.
    pub path: String,
    /// `Host`.
    pub host: Option<String>,
    /// `Origin`.
    pub origin: Option<String>,
    /// [`OWN_HEADER`]: the name of the page that asks.
    pub page: Option<String>,
    /// Body.
    pub body: Vec<u8>,
}

/// A finished answer.
#[derive(Debug, Clone)]
pub struct Response {
    /// Status.
    pub status: u16,
    /// Type of the body.
    pub kind: &'static str,
    /// Body.
    pub body: Cow<'static, [u8]>,
}

/// What comes back.
pub enum Reply {
    /// All at once.
    Whole(Response),
    /// Events while the work runs; the flag stops it.
    Stream(Work, Arc<AtomicBool>),
}

/// The page: what it starts with, whom it answers, and what is under way.
pub struct Page {
    opened: Opened,
    /// Names that `Host` may have.
    hosts: Vec<String>,
    /// Whether any number may stand for this computer: it was told to listen on all addresses.
    any_number: bool,
    port: u16,
    jobs: Jobs,
    memory: Arc<Memory>,
}

impl Page {
    /// A page served at an address and port.
    #[must_use]
    pub fn new(opened: Opened, address: IpAddr, port: u16) -> Self {
        let mut hosts = vec!["localhost".to_owned(), "127.0.0.1".into(), "[::1]".into()];
        hosts.push(match address {
            IpAddr::V4(a) => a.to_string(),
            IpAddr::V6(a) => format!("[{a}]"),
        });
        Self {
            opened,
            hosts,
            any_number: address.is_unspecified(),
            port,
            jobs: Jobs::default(),
            memory: Arc::default(),
        }
    }

    /// Answers a request.
    #[must_use]
    pub fn answer(&self, request: &Request) -> Reply {
        match self.route(request) {
            Ok(reply) => reply,
            Err(refusal) => Reply::Whole(refused(&refusal)),
        }
    }

    /// What the head of a request alone decides: a refusal before any of its body is read.
    ///
    /// # Errors
    /// The refusal.
    pub fn answer_head(&self, request: &Request) -> Result<(), Response> {
        self.guard(request).map_err(|refusal| refused(&refusal))
    }

    /// Stops all work.
    pub fn stop_all(&self) {
        self.jobs.stop_all();
    }

    fn route(&self, request: &Request) -> Result<Reply, Refusal> {
        self.guard(request)?;
        match (request.method.as_str(), request.path.as_str()) {
            ("GET" | "HEAD", "/api/lists") => json(&lists::lists(&self.opened)?),
            ("GET" | "HEAD", path) => match asset(path) {
                Some((kind, bytes)) => Ok(Reply::Whole(Response {
                    status: 200,
                    kind,
                    body: Cow::Borrowed(bytes),
                })),
                None => Err(Refusal::new(404, format!("{path}: there is no such page"))),
            },
            ("POST", "/api/check") => json(&lists::about(&read(request)?)?),
            ("POST", "/api/study") => {
                self.work(request, studies::study(&read(request)?, &self.memory)?)
            }
            ("POST", "/api/measure") => {
                self.work(request, studies::measure(&read(request)?, &self.memory)?)
            }
            ("POST", "/api/report") => {
                self.work(request, studies::report(&read(request)?, &self.memory)?)
            }
            ("POST", "/api/claim") => self.work(request, studies::claim(&read(request)?)?),
            ("POST", "/api/hot-day") => self.work(request, hot_day::asked_for(&read(request)?)?),
            ("POST", "/api/fit") => self.work(request, logs::fitted(&read(request)?)?),
            ("POST", "/api/judge") => self.work(request, logs::judged(&read(request)?)?),
            ("POST", path) => Err(Refusal::new(404, format!("{path}: there is no such page"))),
            (method, _) => {
                let told = format!("{method}: only GET, HEAD and POST are answered");
                Err(Refusal::new(405, told))
            }
        }
    }

    fn work(&self, request: &Request, work: Work) -> Result<Reply, Refusal> {
        let page = request.page.as_deref().unwrap_or_default();
        let taken = self.jobs.take(page, work);
        let (work, stop) = taken.ok_or_else(|| {
            Refusal::new(503, "too much is being worked out at once; try again soon")
        })?;
        Ok(Reply::Stream(work, stop))
    }

    /// Refuses other sites: by the name they reach this page under, by the page that asks, and by
    /// the header that only this page's script sets.
    fn guard(&self, request: &Request) -> Result<(), Refusal> {
        let host = request.host.as_deref().unwrap_or_default();
        if !self.knows(host) {
            let told = format!("host {host:?} is not this page's");
            return Err(Refusal::new(403, told));
        }
        if let Some(origin) = request.origin.as_deref()
            && origin.strip_prefix("http://") != Some(host)
        {
            return Err(Refusal::new(
                403,
                format!("origin {origin:?} is another page"),
            ));
        }
        if request.method == "POST" && request.page.as_deref().is_none_or(str::is_empty) {
            let told = format!("a POST needs the header {OWN_HEADER}");
            return Err(Refusal::new(403, told));
        }
        if request.body.len() > LARGEST_BODY {
            return Err(too_large());
        }
        Ok(())
    }

    fn knows(&self, host: &str) -> bool {
        let (name, port) = match host.rsplit_once(':') {
            Some((name, port)) if !port.ends_with(']') => (name, port.parse().ok()),
            _ => (host, Some(80)),
        };
        let known = self.hosts.iter().any(|h| h.eq_ignore_ascii_case(name));
        let number = || {
            let bare = name.trim_start_matches('[').trim_end_matches(']');
            self.any_number && bare.parse::<IpAddr>().is_ok()
        };
        port == Some(self.port) && (known || number())
    }
}

/// A body that is too large.
fn too_large() -> Refusal {
    let mb = LARGEST_BODY / (1024 * 1024);
    Refusal::new(413, format!("a request holds at most {mb} MiB"))
}

/// The answer to a body of which more came than is read.
#[must_use]
pub fn body_too_large() -> Response {
    refused(&too_large())
}

/// The answer to a request that came too slowly.
#[must_use]
pub fn too_slow() -> Response {
    refused(&Refusal::new(
        408,
        "the request did not come to its end in time",
    ))
}

fn refused(refusal: &Refusal) -> Response {
    match serde_json::to_vec(refusal) {
        Ok(body) => Response {
            status: refusal.status,
            kind: JSON,
            body: Cow::Owned(body),
        },
        Err(error) => Response {
            status: 500,
            kind: TEXT,
            body: Cow::Owned(error.to_string().into_bytes()),
        },
    }
}

fn json(value: &impl Serialize) -> Result<Reply, Refusal> {
    let body = serde_json::to_vec(value).map_err(|e| Refusal::new(500, e.to_string()))?;
    Ok(Reply::Whole(Response {
        status: 200,
        kind: JSON,
        body: Cow::Owned(body),
    }))
}

fn read<T: DeserializeOwned>(request: &Request) -> Result<T, Refusal> {
    let bad = |e: serde_json::Error| Refusal::new(400, format!("the request can't be read: {e}"));
    let mut reader = serde_json::Deserializer::from_slice(&request.body);
    let value = T::deserialize(&mut reader).map_err(bad)?;
    reader.end().map_err(bad)?;
    Ok(value)
}
