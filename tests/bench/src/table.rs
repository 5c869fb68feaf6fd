//! Plain tables on standard output.

/// Prints rows in columns: the first to the left, the others to the right.
pub fn print(title: &str, heads: &[&str], rows: &[Vec<String>]) {
    println!("\n{title}");
    let width = |i: usize| {
        let cells = rows
            .iter()
            .filter_map(|r| r.get(i))
            .map(|c| c.chars().count());
        cells.chain([heads[i].chars().count()]).max().unwrap_or(0)
    };
    let widths: Vec<usize> = (0..heads.len()).map(width).collect();
    let line = |cells: Vec<&str>| {
        let each = cells.iter().zip(&widths).enumerate().map(|(i, (c, &w))| {
            if i == 0 {
                format!("{c:<w$}")
            } else {
                format!("{c:>w$}")
            }
        });
        println!("  {}", each.collect::<Vec<_>>().join("  ").trim_end());
    };
    line(heads.to_vec());
    for row in rows {
        line(row.iter().map(String::as_str).collect());
    }
}

/// Seconds as milliseconds.
pub fn ms(seconds: f64) -> String {
    format!("{:.1}", seconds * 1e3)
}

/// An error in kelvin.
pub fn kelvin(error: f64) -> String {
    if error < 1e-3 {
        format!("{error:.1e}")
    } else {
        format!("{error:.4}")
    }
}
