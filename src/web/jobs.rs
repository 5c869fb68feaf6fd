//! Work that takes long: events to the page, and stopping when nobody wants the result any more.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

use serde::Serialize;

use crate::study::draws::Sampled;

/// Most works at a time, over all pages.
const MOST_AT_A_TIME: usize = 6;
/// Most pages that are remembered.
const MOST_PAGES: usize = 64;

/// Work for a thread of its own, which tells what it finds to a [`Sink`].
pub type Work = Box<dyn FnOnce(&Sink) + Send>;

/// Takes the events of one work as text of an event stream.
pub struct Sink {
    send: Box<dyn Fn(String) -> bool + Send + Sync>,
    stop: Arc<AtomicBool>,
}

/// Share of a stage that is done.
#[derive(Serialize)]
struct Progress<'a> {
    stage: &'a str,
    /// 0 to 1; null where it isn't known.
    share: Option<f64>,
}

impl Sink {
    /// A sink around a channel; `send` says whether anybody still listens.
    pub fn new(
        send: impl Fn(String) -> bool + Send + Sync + 'static,
        stop: Arc<AtomicBool>,
    ) -> Self {
        Self {
            send: Box::new(send),
            stop,
        }
    }

    /// Sends an event; the page reads back the very bytes of `data`.
    pub fn event(&self, name: &str, data: &str) {
        let mut text = format!("event: {name}\n");
        for line in data.split('\n') {
            text.push_str("data: ");
            text.push_str(line);
            text.push('\n');
        }
        text.push('\n');
        if !self.stopped() && !(self.send)(text) {
            self.stop.store(true, Ordering::Relaxed);
        }
    }

    /// Tells how far a stage is, and hears whether anybody still wants the result.
    pub fn progress(&self, stage: &str, share: Option<f64>) -> bool {
        let told = serde_json::to_string(&Progress { stage, share });
        self.event("progress", &told.unwrap_or_default());
        !self.stopped()
    }

    /// The flag that stops the work.
    pub(super) fn stop(&self) -> Arc<AtomicBool> {
        self.stop.clone()
    }

    /// Whether nobody wants the result any more.
    #[must_use]
    pub fn stopped(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }
}

/// Most samples that are kept.
const MOST_KEPT: usize = 24;

/// Samples that were drawn before, newest last: the bare car is the same for every choice, and a choice
/// taken back needs no second look.
#[derive(Default)]
pub(super) struct Memory(Mutex<Vec<(String, Arc<Sampled>)>>);

impl Memory {
    /// The sample under a key.
    pub(super) fn find(&self, key: &str) -> Option<Arc<Sampled>> {
        let mut kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let place = kept.iter().position(|(k, _)| k == key)?;
        let found = kept.remove(place);
        let sampled = found.1.clone();
        kept.push(found);
        Some(sampled)
    }

    /// Keeps a sample in place of one with fewer draws; the one not asked for longest goes.
    pub(super) fn keep(&self, key: String, sampled: Arc<Sampled>) {
        let mut kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(place) = kept.iter().position(|(k, _)| *k == key) {
            let (_, before) = kept.remove(place);
            if before.outcomes.len() > sampled.outcomes.len() {
                kept.push((key, before));
                return;
            }
        }
        if kept.len() >= MOST_KEPT {
            kept.remove(0);
        }
        kept.push((key, sampled));
    }
}

/// The works under way, by page.
#[derive(Default)]
pub(super) struct Jobs {
    by_page: Mutex<BTreeMap<String, Arc<AtomicBool>>>,
    running: Arc<AtomicUsize>,
}

/// Counts a work until it ends, however it ends.
struct Turn(Arc<AtomicUsize>);

impl Drop for Turn {
    fn drop(&mut self) {
        self.0.fetch_sub(1, Ordering::AcqRel);
    }
}

impl Jobs {
    /// Makes room for a work of a page: what the page had under way before is stopped. `None` when
    /// too much is going on.
    pub(super) fn take(&self, page: &str, work: Work) -> Option<(Work, Arc<AtomicBool>)> {
        let stop = Arc::new(AtomicBool::new(false));
        {
            let mut by_page = self.by_page.lock().unwrap_or_else(PoisonError::into_inner);
            if by_page.len() >= MOST_PAGES && !by_page.contains_key(page) {
                // a forgotten page's work goes on to its end
                by_page.pop_first();
            }
            if let Some(before) = by_page.insert(page.to_owned(), stop.clone()) {
                before.store(true, Ordering::Relaxed);
            }
        }
        if self.running.fetch_add(1, Ordering::AcqRel) >= MOST_AT_A_TIME {
            self.running.fetch_sub(1, Ordering::AcqRel);
            return None;
        }
        let turn = Turn(self.running.clone());
        let counted: Work = Box::new(move |sink| {
            let _turn = turn;
            work(sink);
        });
        Some((counted, stop))
    }

    /// Stops everything.
    pub(super) fn stop_all(&self) {
        let by_page = self.by_page.lock().unwrap_or_else(PoisonError::into_inner);
        by_page
            .values()
            .for_each(|s| s.store(true, Ordering::Relaxed));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_new_work_of_a_page_stops_the_one_before_and_no_other() {
        let jobs = Jobs::default();
        let work = || -> Work { Box::new(|_| {}) };
        let (_a, first) = jobs.take("one", work()).unwrap();
        let (_b, other) = jobs.take("two", work()).unwrap();
        let (_c, second) = jobs.take("one", work()).unwrap();
        let stopped = |s: &AtomicBool| s.load(Ordering::Relaxed);
        assert!(stopped(&first) && !stopped(&other) && !stopped(&second));
        jobs.stop_all();
        assert!(stopped(&other) && stopped(&second));
    }

    #[test]
    fn too_many_works_wait_outside_and_finished_ones_make_room() {
        let jobs = Jobs::default();
        let mut held: Vec<_> = (0..MOST_AT_A_TIME)
            .map(|i| jobs.take(&i.to_string(), Box::new(|_| {})).unwrap())
            .collect();
        assert!(jobs.take("late", Box::new(|_| {})).is_none());
        held.pop();
        assert!(jobs.take("late", Box::new(|_| {})).is_some());
    }

    #[test]
    fn lines_of_an_event_come_back_as_they_were() {
        let got = Arc::new(Mutex::new(String::new()));
        let kept = got.clone();
        let send = move |text: String| {
            kept.lock().unwrap().push_str(&text);
            true
        };
        Sink::new(send, Arc::default()).event("run", "{\n  1\n}\n");
        let text = got.lock().unwrap().clone();
        let lines = text.lines().filter_map(|l| l.strip_prefix("data: "));
        assert_eq!(lines.collect::<Vec<_>>().join("\n"), "{\n  1\n}\n");
    }
}
