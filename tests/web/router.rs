//! Requests and their answers, without a socket.

use baysoak::web::router::LARGEST_BODY;
use baysoak::web::{Page, Request};
use proptest::prelude::*;
use serde_json::{Value, json};

use super::{PORT, demo, get, page, post, refused, short_car, whole};

#[test]
fn the_page_and_all_that_it_loads_are_there() {
    let page = page();
    let index = whole(page.answer(&get("/")));
    assert_eq!(
        (index.status, index.kind),
        (200, "text/html; charset=utf-8")
    );
    let text = String::from_utf8(index.body.into_owned()).unwrap();
    let mut loaded = 0;
    for start in ["src=\"", "href=\""] {
        for (at, _) in text.match_indices(start) {
            let path = text[at + start.len()..].split('"').next().unwrap();
            if path.starts_with('#') {
                continue;
            }
            // nothing from elsewhere
            assert!(path.starts_with('/') && !path.starts_with("//"), "{path}");
            assert_eq!(whole(page.answer(&get(path))).status, 200, "{path}");
            loaded += 1;
        }
    }
    assert!(loaded >= 5, "{loaded}");
    assert!(!text.contains("<style") && !text.contains(" style=") && !text.contains(" onclick"));
}

#[test]
fn scripts_load_each_other_and_nothing_from_elsewhere() {
    let page = page();
    for script in [
        "/app.js",
        "/bay.js",
        "/charts.js",
        "/checks.js",
        "/figures.js",
        "/hot.js",
        "/jobs.js",
        "/talk.js",
        "/units.js",
    ] {
        let body = whole(page.answer(&get(script))).body.into_owned();
        let text = String::from_utf8(body).unwrap();
        for line in text.lines().filter(|l| l.starts_with("import ")) {
            let path = line.split('"').nth(1).unwrap().trim_start_matches('.');
            assert_eq!(
                whole(page.answer(&get(path))).status,
                200,
                "{script}: {line}"
            );
        }
        for outside in ["http://", "https://", "eval(", "new Function"] {
            assert!(!text.contains(outside), "{script}: {outside}");
        }
    }
}

#[test]
fn paths_that_look_like_files_lead_nowhere() {
    let page = page();
    for path in [
        "/../Cargo.toml",
        "/etc/passwd",
        "//etc/passwd",
        "/vendor/../app.rs",
        "/%2e%2e/Cargo.toml",
        "/app.js/..",
        "",
        "/src/main.rs",
        "/vendor/",
        "/assets/app.js",
        "file:///etc/passwd",
        "/api/check",
        "/api/",
    ] {
        assert_eq!(refused(&page, &get(path)).0, 404, "{path}");
    }
}

#[test]
fn other_sites_are_refused() {
    let page = page();
    let with = |change: &dyn Fn(&mut Request)| {
        let mut request = post("/api/check", &short_car());
        change(&mut request);
        whole(page.answer(&request)).status
    };
    assert_eq!(with(&|_| {}), 200);
    for host in [
        "evil.example:8737",
        "127.0.0.1:80",
        "127.0.0.1",
        "127.0.0.1:8737.evil",
        "localhost:8737:8737",
        "0.0.0.0:8737",
        "",
    ] {
        assert_eq!(with(&|r| r.host = Some(host.into())), 403, "{host}");
    }
    assert_eq!(with(&|r| r.host = None), 403);
    for host in ["localhost:8737", "[::1]:8737", "LOCALHOST:8737"] {
        assert_eq!(with(&|r| r.host = Some(host.into())), 200, "{host}");
    }
    for origin in [
        "http://evil.example",
        "null",
        "https://127.0.0.1:8737",
        "http://127.0.0.1:8738",
        "http://localhost:8737",
    ] {
        assert_eq!(with(&|r| r.origin = Some(origin.into())), 403, "{origin}");
    }
    assert_eq!(
        with(&|r| r.origin = Some(format!("http://127.0.0.1:{PORT}"))),
        200
    );
    // without its own header a form of another site could post
    assert_eq!(with(&|r| r.page = None), 403);
    assert_eq!(with(&|r| r.page = Some(String::new())), 403);
    let mut read = get("/api/lists");
    read.host = Some("evil.example:8737".into());
    assert_eq!(refused(&page, &read).0, 403);
}

#[test]
fn a_page_on_all_addresses_answers_to_numbers_and_no_foreign_names() {
    let page = Page::new(demo(), "0.0.0.0".parse().unwrap(), PORT);
    let status = |host: &str| {
        let mut request = get("/");
        request.host = Some(host.into());
        whole(page.answer(&request)).status
    };
    assert_eq!(status("192.0.2.7:8737"), 200);
    assert_eq!(status("[2001:db8::1]:8737"), 200);
    assert_eq!(status("evil.example:8737"), 403);
    assert_eq!(
        whole(super::page().answer(&Request {
            host: Some("192.0.2.7:8737".into()),
            ..get("/")
        }))
        .status,
        403
    );
}

#[test]
fn methods_that_change_things_are_not_there() {
    for method in [
        "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECT", "get",
    ] {
        let mut request = get("/");
        request.method = method.into();
        assert_eq!(refused(&page(), &request).0, 405, "{method}");
    }
}

#[test]
fn a_body_that_is_too_large_is_refused() {
    let mut request = post("/api/check", &json!({}));
    request.body = vec![b' '; LARGEST_BODY + 1];
    let (status, said) = refused(&page(), &request);
    assert_eq!(status, 413);
    assert!(said["text"].as_str().unwrap().contains("24 MiB"), "{said}");
}

#[test]
fn what_is_no_request_is_refused_with_its_place() {
    let page = page();
    let car = short_car().to_string();
    let tail = format!("{car} {car}");
    for body in [
        "",
        "{",
        "[]",
        "null",
        "{\"sheet\": 3}",
        "\u{0}",
        tail.as_str(),
        "{\"shet\": {}}",
    ] {
        let mut request = post("/api/study", &json!({}));
        request.body = body.as_bytes().to_vec();
        let (status, said) = refused(&page, &request);
        assert_eq!(status, 400, "{body}");
        assert!(
            said["text"].as_str().unwrap().contains("can't be read"),
            "{said}"
        );
    }
    let mut request = post("/api/study", &json!({}));
    request.body = vec![0xff, 0xfe, 0x00];
    assert_eq!(refused(&page, &request).0, 400);
    // deep nesting must not use the stack up
    request.body = "[".repeat(200_000).into_bytes();
    assert_eq!(refused(&page, &request).0, 400);
}

#[test]
fn a_bad_sheet_gets_the_words_of_the_command_line_and_their_lines() {
    let text = demo()
        .text
        .replace("power_kw = 132", "power_kw = -1")
        .replace("wall_mm = 5\n", "wall_mm = 500\nwal = 2\n");
    let command_line = baysoak::sheet::Sheet::parse(&text, "demo.toml").unwrap_err();
    let mut car = short_car();
    car["sheet"]["text"] = text.into();
    for path in ["/api/check", "/api/study", "/api/report"] {
        let (status, said) = refused(&page(), &post(path, &car));
        assert_eq!(status, 422);
        assert_eq!(said["text"], command_line.to_string());
        let lines: Vec<u64> = said["problems"]
            .as_array()
            .unwrap()
            .iter()
            .map(|p| p["line"].as_u64().unwrap())
            .collect();
        let wanted: Vec<u64> = command_line
            .problems
            .iter()
            .map(|p| p.line as u64)
            .collect();
        assert_eq!(lines, wanted);
        assert_eq!(lines.len(), 3);
    }
}

#[test]
fn every_wrong_choice_is_refused_in_words() {
    let page = page();
    let said = |change: &dyn Fn(&mut Value)| {
        let mut car = short_car();
        change(&mut car);
        let (status, said) = refused(&page, &post("/api/study", &car));
        assert_eq!(status, 422, "{said}");
        said["text"].as_str().unwrap().to_owned()
    };
    let near = said(&|c| c["treat"] = json!({"turbin": "shield-single"}));
    assert!(near.contains("did you mean turbine?"), "{near}");
    let near = said(&|c| c["treat"] = json!({"turbine": "shield-singel"}));
    assert!(near.contains("shield-single"), "{near}");
    let near = said(&|c| c["measures"] = json!(["vent-bonet"]));
    assert!(near.contains("vent-bonnet"), "{near}");
    let near = said(&|c| {
        c["cycle"] = "quue".into();
        c.as_object_mut().unwrap().remove("log");
    });
    assert!(near.contains("queue"), "{near}");
    let near = said(&|c| c["day"] = "hto".into());
    assert!(near.contains("did you mean hot?"), "{near}");
    let range = said(&|c| c["weather"] = json!({"ambient_c": 400}));
    assert!(
        range.contains("ambient_c") && range.contains("above the limit"),
        "{range}"
    );
    let key = said(&|c| c["weather"] = json!({"ambient_c\" = 1\n\"x": 1}));
    assert!(key.contains("unknown key"), "{key}");
    let draws = said(&|c| c["draws"] = 3.into());
    assert!(draws.contains("number of draws is 3"), "{draws}");
    let draws = said(&|c| c["draws"] = 1_000_000.into());
    assert!(draws.contains("number of draws"), "{draws}");
    let log = said(&|c| c["log"]["text"] = "time_s,speed_kmh\n0,0\n10,fast\n".into());
    assert!(log.contains("short.csv") && log.contains('3'), "{log}");
}

#[test]
fn a_sheet_is_described_with_what_there_is_to_choose_from() {
    let response = whole(page().answer(&post("/api/check", &short_car())));
    assert_eq!(response.status, 200);
    let about: Value = serde_json::from_slice(&response.body).unwrap();
    let parts: Vec<&str> = about["parts"]
        .as_array()
        .unwrap()
        .iter()
        .map(|p| p["name"].as_str().unwrap())
        .collect();
    assert_eq!(
        parts,
        [
            "runners",
            "collector",
            "turbine",
            "catalyst",
            "downpipe",
            "front pipe"
        ]
    );
    assert_eq!(about["day"][0], json!(["ambient_c", 28.0]));
    let lists = whole(page().answer(&get("/api/lists")));
    let lists: Value = serde_json::from_slice(&lists.body).unwrap();
    assert!(lists["treatments"].as_array().unwrap().len() > 10);
    assert!(lists["care"].as_str().unwrap().contains("Burns"));
    for list in ["builds", "cycles", "days", "measures", "scale"] {
        assert!(lists[list].as_array().unwrap().len() >= 3, "{list}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Whatever comes, an answer goes back.
    #[test]
    fn nothing_that_is_sent_makes_it_panic(
        method in "(GET|POST|HEAD|[A-Z]{0,6})",
        path in "(/api/(check|study|report|claim|judge|measure|fit|hot-day)|/\\PC{0,12})",
        host in proptest::option::of("\\PC{0,20}|127\\.0\\.0\\.1:8737"),
        body in proptest::collection::vec(any::<u8>(), 0..80),
    ) {
        let request = Request { method, path, host, origin: None, page: Some("x".into()), body };
        let response = whole(page().answer(&request));
        prop_assert!((200..600).contains(&response.status));
    }

    /// A sheet cut anywhere is a sheet or a refusal.
    #[test]
    fn a_sheet_cut_off_anywhere_is_answered(part in 0.0..1.0f64) {
        let text = demo().text;
        let mut end = (part * text.len() as f64) as usize;
        while !text.is_char_boundary(end) { end -= 1; }
        let mut car = short_car();
        car["sheet"]["text"] = text[..end].into();
        let response = whole(page().answer(&post("/api/check", &car)));
        prop_assert!(matches!(response.status, 200 | 422));
    }
}
