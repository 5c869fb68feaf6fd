//! Files of the page, in the binary.

/// A file by the path that asks for it: its type and its bytes.
pub(super) fn asset(path: &str) -> Option<(&'static str, &'static [u8])> {
    const HTML: &str = "text/html; charset=utf-8";
    const CSS: &str = "text/css; charset=utf-8";
    const JS: &str = "text/javascript; charset=utf-8";
    macro_rules! file {
        ($kind:expr, $path:literal) => {
            Some(($kind, include_bytes!(concat!("assets/", $path)).as_slice()))
        };
    }
    match path {
        "/" => file!(HTML, "index.html"),
        "/app.css" => file!(CSS, "app.css"),
        "/app.js" => file!(JS, "app.js"),
        "/bay.js" => file!(JS, "bay.js"),
        "/charts.js" => file!(JS, "charts.js"),
        "/checks.js" => file!(JS, "checks.js"),
        "/figures.js" => file!(JS, "figures.js"),
        "/hot.js" => file!(JS, "hot.js"),
        "/jobs.js" => file!(JS, "jobs.js"),
        "/talk.js" => file!(JS, "talk.js"),
        "/units.js" => file!(JS, "units.js"),
        "/vendor/uPlot.esm.js" => file!(JS, "vendor/uplot/uPlot.esm.js"),
        "/vendor/uPlot.min.css" => file!(CSS, "vendor/uplot/uPlot.min.css"),
        "/vendor/uPlot.licence.txt" => file!("text/plain; charset=utf-8", "vendor/uplot/LICENSE"),
        "/icon.svg" => file!("image/svg+xml", "icon.svg"),
        _ => None,
    }
}
