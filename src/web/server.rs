//! The socket around the router: a local web server that can't be held up.

use std::convert::Infallible;
use std::future::Future;
use std::io;
use std::net::{IpAddr, SocketAddr};
use std::pin::Pin;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::task::{Context, Poll};
use std::time::Duration;

use http_body_util::{BodyExt, Either, Full, LengthLimitError, Limited};
use hyper::body::{Body, Bytes, Frame, Incoming};
use hyper::header::{self, HeaderValue};
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper_util::rt::{TokioIo, TokioTimer};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{Semaphore, mpsc, watch};
use tokio::time::timeout;

use super::jobs::{Sink, Work};
use super::router::{
    LARGEST_BODY, OWN_HEADER, Opened, POLICY, Page, Reply, Request, Response, body_too_large,
    too_slow,
};

/// Ports that are tried after the wished one when that is taken.
const MORE_PORTS: u16 = 20;
/// Most connections at a time; more wait.
const MOST_CONNECTIONS: usize = 128;
/// Longest time for the head of a request, and of silence between two.
const HEAD_TIME: Duration = Duration::from_secs(5);
/// Longest time for a body.
const BODY_TIME: Duration = Duration::from_secs(30);
/// Longest life of a connection, a study with its bands among it.
const CONNECTION_TIME: Duration = Duration::from_secs(900);

/// A server that has its port and doesn't answer yet.
pub struct Bound {
    listener: std::net::TcpListener,
    address: SocketAddr,
    page: Page,
}

/// Takes the wished port, or the next free one; port 0 takes any.
///
/// # Errors
/// When none of the ports can be had.
pub fn bind(opened: Opened, address: IpAddr, port: u16) -> io::Result<Bound> {
    let last = if port == 0 {
        0
    } else {
        port.saturating_add(MORE_PORTS)
    };
    let mut tried = Err(io::ErrorKind::AddrInUse.into());
    for port in port..=last {
        tried = std::net::TcpListener::bind((address, port));
        match &tried {
            Err(e) if e.kind() == io::ErrorKind::AddrInUse => {}
            _ => break,
        }
    }
    let listener = tried?;
    listener.set_nonblocking(true)?;
    let address = listener.local_addr()?;
    Ok(Bound {
        page: Page::new(opened, address.ip(), address.port()),
        listener,
        address,
    })
}

impl Bound {
    /// Address and port that it has.
    #[must_use]
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// Answers until `stop` is ready, then ends what is under way.
    ///
    /// # Errors
    /// When the runtime or the socket fails.
    pub fn run(self, stop: impl Future<Output = ()>) -> io::Result<()> {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()?;
        let page = Arc::new(self.page);
        let result = runtime.block_on(async {
            let listener = TcpListener::from_std(self.listener)?;
            let (close, closing) = watch::channel(false);
            tokio::select! {
                () = accept(&listener, &page, &closing) => {}
                () = stop => {}
            }
            page.stop_all();
            // open event streams must not hold the stop up
            let _ = close.send(true);
            Ok(())
        });
        runtime.shutdown_timeout(Duration::from_millis(200));
        result
    }

    /// Answers until Ctrl-C.
    ///
    /// # Errors
    /// As [`Bound::run`].
    pub fn run_until_interrupted(self) -> io::Result<()> {
        self.run(async {
            // without the signal the stop is the end of the process, as for any program
            if tokio::signal::ctrl_c().await.is_err() {
                std::future::pending::<()>().await;
            }
        })
    }
}

async fn accept(listener: &TcpListener, page: &Arc<Page>, closing: &watch::Receiver<bool>) {
    let places = Arc::new(Semaphore::new(MOST_CONNECTIONS));
    loop {
        let Ok(place) = places.clone().acquire_owned().await else {
            return;
        };
        let stream = match listener.accept().await {
            Ok((stream, _)) => stream,
            Err(_) => {
                // out of file handles, or the caller has gone: go on in a moment
                tokio::time::sleep(Duration::from_millis(50)).await;
                continue;
            }
        };
        let (page, mut closing) = (page.clone(), closing.clone());
        tokio::spawn(async move {
            let _place = place;
            tokio::select! {
                _ = timeout(CONNECTION_TIME, connection(stream, page)) => {}
                _ = closing.changed() => {}
            }
        });
    }
}

async fn connection(stream: TcpStream, page: Arc<Page>) {
    let service = service_fn(move |request| {
        let page = page.clone();
        async move { Ok::<_, Infallible>(answer(request, &page).await) }
    });
    // a connection that breaks is the other side's business
    let _ = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(HEAD_TIME)
        .max_buf_size(64 * 1024)
        .serve_connection(TokioIo::new(stream), service)
        .await;
}

type Answer = hyper::Response<Either<Full<Bytes>, Events>>;

async fn answer(request: hyper::Request<Incoming>, page: &Arc<Page>) -> Answer {
    let (head, body) = request.into_parts();
    let text = |name: &str| {
        let value = head.headers.get(name)?;
        // what isn't text is no name of ours either
        Some(value.to_str().unwrap_or("?").to_owned())
    };
    let mut asked = Request {
        method: head.method.as_str().to_owned(),
        path: head.uri.path().to_owned(),
        host: text("host"),
        origin: text("origin"),
        page: text(OWN_HEADER),
        body: Vec::new(),
    };
    if let Err(refusal) = page.answer_head(&asked) {
        return whole(refusal, &asked.method);
    }
    let collected = timeout(BODY_TIME, Limited::new(body, LARGEST_BODY).collect()).await;
    asked.body = match collected {
        Ok(Ok(body)) => body.to_bytes().to_vec(),
        Ok(Err(e)) if e.is::<LengthLimitError>() => return whole(body_too_large(), &asked.method),
        Ok(Err(_)) | Err(_) => return whole(too_slow(), &asked.method),
    };
    let method = asked.method.clone();
    let page = page.clone();
    // reading a sheet takes milliseconds, and other connections go on meanwhile
    let replied = tokio::task::spawn_blocking(move || page.answer(&asked)).await;
    match replied {
        Ok(Reply::Whole(response)) => whole(response, &method),
        Ok(Reply::Stream(work, stop)) => stream(work, stop),
        Err(_) => whole(
            Response {
                status: 500,
                kind: "text/plain; charset=utf-8",
                body: b"the program has a fault here".as_slice().into(),
            },
            &method,
        ),
    }
}

fn dressed(mut answer: Answer, kind: &'static str) -> Answer {
    let fixed = [
        (header::CONTENT_TYPE, kind),
        (header::CONTENT_SECURITY_POLICY, POLICY),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::REFERRER_POLICY, "no-referrer"),
        (header::CACHE_CONTROL, "no-store"),
    ];
    for (name, value) in fixed {
        let value = HeaderValue::from_static(value);
        answer.headers_mut().insert(name, value);
    }
    answer
}

fn whole(response: Response, method: &str) -> Answer {
    let body = match method {
        "HEAD" => Bytes::new(),
        _ => Bytes::from(response.body.into_owned()),
    };
    let mut answer = hyper::Response::new(Either::Left(Full::new(body)));
    *answer.status_mut() = hyper::StatusCode::from_u16(response.status)
        .unwrap_or(hyper::StatusCode::INTERNAL_SERVER_ERROR);
    if response.status >= 400 {
        // what is left of a refused body isn't worth reading
        let close = HeaderValue::from_static("close");
        answer.headers_mut().insert(header::CONNECTION, close);
    }
    dressed(answer, response.kind)
}

/// Starts a work on a thread of its own and gives its events as they come.
fn stream(work: Work, stop: Arc<AtomicBool>) -> Answer {
    let (sender, receiver) = mpsc::unbounded_channel::<String>();
    let events = Events(receiver, stop.clone());
    let sink = Sink::new(move |text| sender.send(text).is_ok(), stop);
    let started = std::thread::Builder::new()
        .name("study".to_owned())
        .spawn(move || work(&sink));
    let mut answer = hyper::Response::new(Either::Right(events));
    if started.is_err() {
        *answer.status_mut() = hyper::StatusCode::SERVICE_UNAVAILABLE;
    }
    dressed(answer, "text/event-stream; charset=utf-8")
}

/// Events of one work as a body, and the flag that stops it.
struct Events(mpsc::UnboundedReceiver<String>, Arc<AtomicBool>);

impl Drop for Events {
    /// The other side has left, or has got everything.
    fn drop(&mut self) {
        self.1.store(true, Ordering::Relaxed);
    }
}

impl Body for Events {
    type Data = Bytes;
    type Error = Infallible;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, Infallible>>> {
        let next = self.0.poll_recv(context);
        next.map(|text| Some(Ok(Frame::data(Bytes::from(text?)))))
    }
}
