//! The page after a change: until new figures are there, and until their bands have settled. Through
//! the router, without a socket or a browser.

use std::net::{IpAddr, Ipv4Addr};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Instant;

use baysoak::sheet;
use baysoak::web::{Opened, Page, Reply, Request, Sink};
use serde_json::{Value, json};

use crate::table::{self, ms};
use crate::{Fault, Settings};

const PORT: u16 = 8737;

/// When the page heard of something, seconds after it had asked.
struct Heard {
    figures_s: f64,
    drawing_s: f64,
    rough_s: f64,
    full_s: f64,
}

fn page(build: &str) -> Result<(Page, String), Fault> {
    let own = sheet::builtins().iter().find(|b| b.name == build);
    let text = own.ok_or("no such build")?.text.to_owned();
    let opened = Opened {
        name: format!("{build}.toml"),
        text: text.clone(),
    };
    Ok((
        Page::new(opened, IpAddr::V4(Ipv4Addr::LOCALHOST), PORT),
        text,
    ))
}

/// Asks the page for a study and listens to its end.
fn ask(page: &Page, body: &Value) -> Result<Heard, Fault> {
    let start = Instant::now();
    let request = Request {
        method: "POST".into(),
        path: "/api/study".into(),
        host: Some(format!("127.0.0.1:{PORT}")),
        page: Some("bench".into()),
        body: body.to_string().into_bytes(),
        ..Request::default()
    };
    let (work, stop) = match page.answer(&request) {
        Reply::Stream(work, stop) => (work, stop),
        Reply::Whole(r) => return Err(String::from_utf8_lossy(&r.body).into()),
    };
    let events = Arc::new(Mutex::new(Vec::new()));
    let kept = events.clone();
    let send = move |text: String| {
        let name = text.lines().next().unwrap_or_default().to_owned();
        let mut kept = kept.lock().unwrap_or_else(PoisonError::into_inner);
        kept.push((name, start.elapsed().as_secs_f64()));
        true
    };
    work(&Sink::new(send, stop));
    let events = events.lock().unwrap_or_else(PoisonError::into_inner);
    let times = |name: &str| -> Vec<f64> {
        let wanted = format!("event: {name}");
        let own = events.iter().filter(|(n, _)| *n == wanted);
        own.map(|(_, t)| *t).collect()
    };
    // the likely run first, then rough bands, then full ones; a comparison follows its run at once
    let told = match times("compare") {
        none if none.is_empty() => times("run"),
        compared => compared,
    };
    match (
        told.as_slice(),
        times("bay").as_slice(),
        times("done").as_slice(),
    ) {
        ([figures, rough, full], [drawing], [_]) => Ok(Heard {
            figures_s: *figures,
            drawing_s: *drawing,
            rough_s: *rough,
            full_s: *full,
        }),
        _ => Err(format!("not the events of a study: {events:?}").into()),
    }
}

/// Prints the table: least of several, each on a page of its own.
pub fn show(settings: &Settings) -> Result<(), Fault> {
    let lists = |page: &Page| -> Result<Value, Fault> {
        let request = Request {
            method: "GET".into(),
            path: "/api/lists".into(),
            host: Some(format!("127.0.0.1:{PORT}")),
            ..Request::default()
        };
        match page.answer(&request) {
            Reply::Whole(r) => Ok(serde_json::from_slice(&r.body)?),
            Reply::Stream(..) => Err("lists as a stream".into()),
        }
    };
    let names = [
        "first visit",
        "a treatment on one part",
        "another on a second",
        "another day, with both",
    ];
    let mut least: Vec<Option<Heard>> = names.iter().map(|_| None).collect();
    let mut draws = Value::Null;
    for _ in 0..settings.repeat.max(1) {
        let (page, text) = page(&settings.build)?;
        draws = lists(&page)?["full_draws"].clone();
        let mut body = json!({
            "sheet": {"name": "bench.toml", "text": text}, "cycle": "queue", "draws": draws,
        });
        for (i, least) in least.iter_mut().enumerate() {
            match i {
                1 => body["treat"] = json!({"downpipe": "glass-wrap-2-turns"}),
                2 => body["treat"]["collector"] = "coat-ceramic-outside".into(),
                3 => body["day"] = "hot".into(),
                _ => {}
            }
            let heard = ask(&page, &body)?;
            if least.as_ref().is_none_or(|l| heard.full_s < l.full_s) {
                *least = Some(heard);
            }
        }
    }
    let rows = names.iter().zip(&least).filter_map(|(name, heard)| {
        let heard = heard.as_ref()?;
        let seconds = |s: f64| format!("{s:.2}");
        Some(vec![
            (*name).to_owned(),
            ms(heard.figures_s),
            ms(heard.drawing_s),
            seconds(heard.rough_s),
            seconds(heard.full_s),
        ])
    });
    let rows: Vec<Vec<String>> = rows.collect();
    table::print(
        &format!(
            "the page after a change ({}, queue; wall time, {draws} draws a car; least of {})",
            settings.build,
            settings.repeat.max(1)
        ),
        &[
            "change",
            "figures, ms",
            "drawing and curves, ms",
            "rough bands, s",
            "full bands, s",
        ],
        &rows,
    );
    Ok(())
}
