//! One change to a good sheet, and the one problem that it must bring.

use baysoak::sheet::{Problem, Sheet, builtins};

/// Text of a built-in sheet.
pub fn starter(name: &str) -> String {
    let found = builtins().iter().find(|s| s.name == name);
    found.expect("a built-in sheet").text.to_owned()
}

/// The least a sheet may have.
pub const LEAST: &str = "title = \"least\"

[engine]
fuel = \"petrol\"
displacement_l = 2.0
cylinders = 4
power_kw = 110
torque_nm = 190

[[exhaust]]
name = \"manifold\"
kind = \"runner\"
metal = \"cast-iron-grey\"
bore_mm = 36
length_mm = 300
";

/// Problems of a sheet that must have some.
#[track_caller]
pub fn problems(text: &str) -> Vec<Problem> {
    match Sheet::parse(text, "mine.toml") {
        Ok(_) => panic!("accepted:\n{text}"),
        Err(error) => error.problems,
    }
}

/// A change that makes a good sheet bad, and what must be said of it.
pub struct Fault {
    /// Text of the good sheet, and what stands there instead.
    pub change: (&'static str, &'static str),
    /// Words of the bad sheet; the problem is in the last line of where they first stand.
    pub at: &'static str,
    /// Key path.
    pub key: &'static str,
    /// The message, all of it.
    pub says: &'static str,
    /// A part of the hint.
    pub hint: &'static str,
}

impl Fault {
    /// The one problem that this change brings to `good`, and nothing beside it.
    #[track_caller]
    pub fn must_show_in(&self, good: &str) {
        let (from, to) = self.change;
        assert_eq!(good.matches(from).count(), 1, "{from:?} must stand once");
        let bad = good.replace(from, to);
        let found = problems(&bad);
        assert_eq!(found.len(), 1, "{to:?} brought {found:#?}");
        let p = &found[0];
        let end = bad.find(self.at).expect("the place") + self.at.len();
        let line = bad[..end].matches('\n').count() + 1;
        assert_eq!(p.key, self.key, "{to:?}: {p}");
        assert_eq!(p.message, self.says, "{to:?}: {p}");
        assert_eq!(p.line, line, "{to:?}: {p}");
        assert!(p.column >= 1, "{p:?}");
        assert!(p.hint.contains(self.hint), "{to:?}: {p}");
        let shown = p.to_string();
        let head = format!("{}: {}", p.line, p.key);
        assert!(
            shown.starts_with(&head) && shown.contains("\n  hint: "),
            "{shown}"
        );
    }
}

/// Short form of a table of faults: change, line, key, message, hint.
macro_rules! faults {
    ($good:expr; $($from:literal => $to:literal, $at:literal, $key:literal, $says:literal, $hint:literal;)+) => {{
        let good = $good;
        baysoak::sheet::Sheet::parse(&good, "good.toml").expect("the sheet before the change");
        $($crate::one_fault::Fault { change: ($from, $to), at: $at, key: $key, says: $says, hint: $hint }
            .must_show_in(&good);)+
    }};
}
pub(crate) use faults;
