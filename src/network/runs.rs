//! Runs of neighbours that are alike.

use std::ops::Range;

/// Where in a list neighbours are alike: runs that follow each other and cover it.
pub(super) fn runs<T>(
    list: &[T],
    alike: impl Fn(&T, &T) -> bool,
) -> impl Iterator<Item = Range<usize>> {
    list.chunk_by(alike).scan(0, |end, run| {
        let first = *end;
        *end += run.len();
        Some(first..*end)
    })
}
