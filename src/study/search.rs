//! The best sets of actions under a budget, whatever the actions are.
//!
//! Few sets are all tried. More are searched: every action alone, every pair of the promising ones,
//! the best sets so far grown by one action at a time, and members of the best exchanged. No set is
//! tried twice.

use std::collections::BTreeMap;

/// Promising actions that are paired.
const SHORTLIST: usize = 10;
/// Sets that are grown in each round.
const BEAM: usize = 5;
/// Most rounds of growing and exchanging.
const ROUNDS: usize = 8;

/// Something that can be done for a price. Of one group only one can be done.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Action {
    /// Group.
    pub group: usize,
    /// Price.
    pub price: f64,
}

/// What trying a set has shown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tried {
    /// Less is better.
    pub value: f64,
    /// Whether the set may be recommended.
    pub allowed: bool,
}

/// A set of actions, by index, rising.
pub type Set = Vec<usize>;

/// How the sets were found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Method {
    /// Every set that fits the budget was tried.
    Exact,
    /// Singles, pairs, growth and exchange.
    Grown,
}

impl Method {
    /// Words for people.
    pub fn words(self) -> &'static str {
        match self {
            Self::Exact => "every set that fits the budget",
            Self::Grown => {
                "every action alone, pairs of the best, the best grown and their members exchanged"
            }
        }
    }
}

/// What was tried.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// All sets that were tried and have a value, the empty one among them.
    pub sets: BTreeMap<Set, Tried>,
    /// Sets that have none.
    pub failed: Vec<Set>,
    /// How.
    pub method: Method,
}

impl Found {
    /// The best set that may be recommended.
    pub fn best(&self) -> Option<(&Set, &Tried)> {
        let allowed = self.sets.iter().filter(|(_, t)| t.allowed);
        allowed.min_by(|a, b| a.1.value.total_cmp(&b.1.value))
    }
}

/// Price of a set.
pub fn price(actions: &[Action], set: &[usize]) -> f64 {
    set.iter().map(|&i| actions[i].price).sum()
}

/// Searches for the best sets. `try_all` gives one entry per set, `None` where a set can't be tried.
///
/// At most `most_exact` sets are tried exhaustively.
pub fn search(
    actions: &[Action],
    budget: f64,
    most_exact: usize,
    try_all: &mut dyn FnMut(&[Set]) -> Vec<Option<Tried>>,
) -> Found {
    let mut search = Search {
        actions,
        budget,
        found: Found {
            sets: BTreeMap::new(),
            failed: Vec::new(),
            method: Method::Exact,
        },
        try_all,
    };
    match search.every(most_exact) {
        Some(sets) => search.attempt(sets),
        None => {
            search.found.method = Method::Grown;
            search.grow();
        }
    }
    search.found
}

struct Search<'a> {
    actions: &'a [Action],
    budget: f64,
    found: Found,
    try_all: &'a mut dyn FnMut(&[Set]) -> Vec<Option<Tried>>,
}

impl Search<'_> {
    /// A set with one more action, when there is room and money.
    fn with(&self, set: &[usize], action: usize) -> Option<Set> {
        let group = self.actions[action].group;
        if set.iter().any(|&i| self.actions[i].group == group) {
            return None;
        }
        let mut grown = set.to_vec();
        grown.push(action);
        grown.sort_unstable();
        // a cent of rounding must not decide
        (price(self.actions, &grown) <= self.budget + 0.005).then_some(grown)
    }

    /// All sets, or `None` when there are more than `most`.
    fn every(&self, most: usize) -> Option<Vec<Set>> {
        let mut sets: Vec<Set> = vec![Vec::new()];
        for action in 0..self.actions.len() {
            for i in 0..sets.len() {
                if let Some(grown) = self.with(&sets[i], action) {
                    sets.push(grown);
                    if sets.len() > most {
                        return None;
                    }
                }
            }
        }
        Some(sets)
    }

    fn attempt(&mut self, mut sets: Vec<Set>) {
        sets.sort();
        sets.dedup();
        sets.retain(|s| !self.found.sets.contains_key(s) && !self.found.failed.contains(s));
        let tried = (self.try_all)(&sets);
        for (set, tried) in sets.into_iter().zip(tried) {
            match tried {
                Some(tried) if tried.value.is_finite() => {
                    self.found.sets.insert(set, tried);
                }
                _ => self.found.failed.push(set),
            }
        }
    }

    fn grow(&mut self) {
        let all = 0..self.actions.len();
        let singles = all.filter_map(|a| self.with(&[], a));
        let mut first: Vec<Set> = singles.collect();
        first.push(Vec::new());
        self.attempt(first);
        let promising = self.promising();
        let pairs = promising
            .iter()
            .flat_map(|&a| promising.iter().map(move |&b| (a, b)))
            .filter(|(a, b)| a < b)
            .filter_map(|(a, b)| self.with(&[a], b))
            .collect();
        self.attempt(pairs);
        for _ in 0..ROUNDS {
            let before = self.found.sets.len() + self.found.failed.len();
            let beam = self.beam();
            let grown = beam
                .iter()
                .flat_map(|set| promising.iter().filter_map(|&a| self.with(set, a)))
                .collect();
            self.attempt(grown);
            let swapped = beam
                .iter()
                .flat_map(|set| self.exchanged(set, &promising))
                .collect();
            self.attempt(swapped);
            let best = self.found.best().map(|(set, _)| set.clone());
            let all: Vec<usize> = (0..self.actions.len()).collect();
            self.attempt(best.map_or_else(Vec::new, |set| self.exchanged(&set, &all)));
            if self.found.sets.len() + self.found.failed.len() == before {
                break;
            }
        }
    }

    /// Actions that do most alone, and those that do most for their price.
    fn promising(&self) -> Vec<usize> {
        let base = self.found.sets.get(&Vec::new()).map_or(0.0, |t| t.value);
        let singles = self.found.sets.iter().filter(|(set, _)| set.len() == 1);
        let gains: Vec<(usize, f64)> = singles.map(|(s, t)| (s[0], base - t.value)).collect();
        let top = |worth: &dyn Fn(&(usize, f64)) -> f64| -> Vec<usize> {
            let mut sorted = gains.clone();
            sorted.sort_by(|a, b| worth(b).total_cmp(&worth(a)));
            sorted.retain(|g| g.1 > 0.0);
            sorted.iter().take(SHORTLIST / 2).map(|g| g.0).collect()
        };
        let mut chosen = top(&|g| g.1);
        let for_money = top(&|g| g.1 / self.actions[g.0].price.max(1.0));
        chosen.extend(
            for_money
                .into_iter()
                .filter(|a| !chosen.contains(a))
                .collect::<Vec<_>>(),
        );
        chosen.sort_unstable();
        chosen
    }

    /// The best sets, allowed or not, and the best allowed ones: what is not allowed alone may be
    /// with one more action.
    fn beam(&self) -> Vec<Set> {
        let mut sorted: Vec<(&Set, &Tried)> = self.found.sets.iter().collect();
        sorted.sort_by(|a, b| a.1.value.total_cmp(&b.1.value));
        let any = sorted.iter().take(BEAM);
        let allowed = sorted.iter().filter(|(_, t)| t.allowed).take(BEAM);
        let mut beam: Vec<Set> = any.chain(allowed).map(|(s, _)| (*s).clone()).collect();
        beam.sort();
        beam.dedup();
        beam
    }

    /// A set with each member exchanged for each of `others`, and with each member left out.
    fn exchanged(&self, set: &[usize], others: &[usize]) -> Vec<Set> {
        let mut out = Vec::new();
        for leaving in set {
            let rest: Set = set.iter().copied().filter(|i| i != leaving).collect();
            out.extend(others.iter().filter_map(|&a| self.with(&rest, a)));
            out.push(rest);
        }
        out
    }
}
