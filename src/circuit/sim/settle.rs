//! Contacts and fuses settle by events; interrupters and pulses make levels.

use super::config::{Config, Laws, Overrides, Wound};
use super::draws::{NEAR, Near};
use super::spec::{Field, FuseCurve, Level};
use crate::circuit::law::LEAST_OHMS;
use crate::circuit::schematic::{ElementId, Law, When};

/// A state lasts this long, s; a fuse that needs longer holds.
pub(in crate::circuit) const LASTS: f64 = 10.0;
/// Interrupters slower than this are seen to move, Hz.
pub(super) const SEEN: f64 = 3.0;
/// Rounds of both phases of what flashes, before the last is taken for what goes on for ever.
const PHASES: usize = 4;
/// An interrupter works only on a current that is there at all, A.
const SOME: f64 = 1e-6;
/// Whether a fuse opens in time is open to doubt within so many times that time.
const DOUBT: f64 = 4.5;

/// A configuration solved.
#[derive(Clone, Debug, Default)]
pub(super) struct Found {
    pub field: Field,
    pub set: Overrides,
    /// Volts of [`Laws::watched`].
    pub watched: Vec<f64>,
    /// See [`Level`].
    pub stand: usize,
}

/// What came of it.
pub(super) struct Settled {
    pub levels: Vec<Level>,
    pub config: Config,
    pub chatters: bool,
    /// A coil that is not pulled in would be held if it were.
    pub hangs: bool,
    /// A fuse that opened may just as well have held, or the other way about.
    pub close: bool,
    /// Thresholds of coils and interrupters that were nearly met, or nearly not.
    pub near: Vec<Near>,
}

/// What is asked of [`settle`].
pub(super) struct Question<'a> {
    pub laws: &'a Laws,
    pub wound: &'a Wound,
    pub fuses: &'a FuseCurve,
    /// The engine turns, so that pulse sources are low and high by turns.
    pub turning: bool,
    /// Levels are wanted; else only where things come to rest.
    pub levels: bool,
}

impl Question<'_> {
    /// A coil's thresholds, V: pull-in, drop-out.
    fn coil(&self, id: ElementId) -> Option<(f64, f64)> {
        let (pull_in, drop_out) = self.wound.law(self.laws, id).0.coil()?;
        let height = self.wound.height(id);
        Some((pull_in * height, drop_out * height))
    }

    /// What pulls at a coil's contacts, V: volts over it, and what another winding on its core adds or takes.
    fn pull(&self, id: ElementId, own: f64, volts: &[f64]) -> f64 {
        let helper = self.wound.law(self.laws, id).0.helper();
        let helped = helper.and_then(|(with, ratio)| {
            let at = self.laws.watched.binary_search(&with).ok()?;
            (*self.wound.law(self.laws, with).0 != Law::Open).then(|| ratio * volts[at])
        });
        (own + helped.unwrap_or(0.0)).abs()
    }
}

/// Starting from `config`, solves, flips the violated coil that acts first, solves again; then blows the fuse that
/// opens first, and begins anew.
pub(super) fn settle(question: &Question<'_>, mut config: Config, mut solve: impl FnMut(&Config) -> Found) -> Settled {
    let (mut chatters, mut close, mut near) = (false, false, Vec::new());
    loop {
        let (mut closed, mut restless) = rest(question, &mut config, &mut solve, &mut near);
        let mut hangs = hanging(question, &config, &closed.watched);
        let (mut fast, mut slow) = working(question, &closed.watched);
        // What is seen to move gives coils the time to follow: each phase starts from where the other left them.
        let mut opened: Option<(Config, Found)> = None;
        for _ in 0..PHASES {
            if slow.ids.is_empty() {
                opened = None;
                break;
            }
            let mut at = Config { high: false, apart: slow.ids.clone(), ..config.clone() };
            let (found, open_restless) = rest(question, &mut at, &mut solve, &mut near);
            let follows = at.pulled != config.pulled;
            restless |= open_restless;
            let mut back = Config { apart: Vec::new(), ..at.clone() };
            opened = Some((at, found));
            if !follows {
                break;
            }
            hangs = true;
            let (found, closed_restless) = rest(question, &mut back, &mut solve, &mut near);
            restless |= closed_restless;
            let same = back.pulled == config.pulled;
            config = back;
            closed = found;
            (fast, slow) = working(question, &closed.watched);
            if same {
                break;
            }
        }
        chatters |= restless;
        let off = opened.as_ref().map_or_else(|| config.pulled.clone(), |(at, _)| at.pulled.clone());
        let mut squares = vec![0.0; question.laws.watched.len()];
        let mut levels = Vec::new();
        let mut first = Some(closed);
        for (fast_closed, slow_closed) in [(true, true), (false, true), (true, false), (false, false)] {
            if (!fast_closed && fast.ids.is_empty()) || (!slow_closed && slow.ids.is_empty()) {
                continue;
            }
            let pulled = if slow_closed { config.pulled.clone() } else { off.clone() };
            let mut at = Config { high: false, apart: Vec::new(), pulled: pulled.clone(), ..config.clone() };
            if !fast_closed {
                at.apart.extend(&fast.ids);
            }
            if !slow_closed {
                at.apart.extend(&slow.ids);
            }
            let share = fast.share(fast_closed) * slow.share(slow_closed);
            let known = match (fast_closed, slow_closed) {
                (true, true) => first.take(),
                (true, false) => opened.take().filter(|(open, _)| open.apart == at.apart).map(|(_, found)| found),
                _ => None,
            };
            let found = known.unwrap_or_else(|| solve(&at));
            for (square, volts) in squares.iter_mut().zip(&found.watched) {
                *square += share * volts * volts;
            }
            let pulses = question.levels && question.turning && !question.laws.pulses.is_empty();
            let level = |found: Found, share: f64, pulse_high: bool| Level {
                share,
                pulled: pulled.clone(),
                closed: fast_closed && slow_closed,
                fast_closed,
                slow_closed,
                pulse_high,
                field: found.field,
                set: found.set,
                stand: found.stand,
            };
            levels.push(level(found, if pulses { share / 2.0 } else { share }, false));
            if pulses {
                at.high = true;
                levels.push(level(solve(&at), share / 2.0, true));
            }
        }
        let (fuse, doubtful) = blows(question, &config, &squares);
        close |= doubtful;
        let Some(fuse) = fuse else {
            return Settled { levels, config, chatters, hangs, close, near };
        };
        let at = config.blown.partition_point(|&other| other < fuse);
        config.blown.insert(at, fuse);
    }
}

/// Flips one violated coil after the other until none is; whether they found no rest. `nearly` takes what came
/// near its threshold on the way.
fn rest(
    question: &Question<'_>,
    config: &mut Config,
    solve: &mut impl FnMut(&Config) -> Found,
    nearly: &mut Vec<Near>,
) -> (Found, bool) {
    let mut seen = vec![config.pulled.clone()];
    loop {
        let found = solve(config);
        near(question, config, &found.watched, nearly);
        let Some(coil) = violated(question, config, &found.watched) else { return (found, false) };
        let mut pulled = config.pulled.clone();
        match pulled.binary_search(&coil) {
            Ok(at) => {
                pulled.remove(at);
            }
            Err(at) => pulled.insert(at, coil),
        }
        if seen.contains(&pulled) {
            return (found, true);
        }
        config.pulled.clone_from(&pulled);
        seen.push(pulled);
    }
}

/// The coil that acts first: the one furthest beyond its threshold, by ratio.
fn violated(question: &Question<'_>, config: &Config, volts: &[f64]) -> Option<ElementId> {
    let mut first: Option<(f64, ElementId)> = None;
    for (&id, &own) in question.laws.watched.iter().zip(volts) {
        let pulled = config.pulled.binary_search(&id).is_ok();
        let ratio = match question.coil(id) {
            Some((pull_in, _)) if !pulled => question.pull(id, own, volts) / pull_in.max(LEAST_OHMS),
            Some((_, drop_out)) => {
                let pull = question.pull(id, own, volts);
                if pull < drop_out { drop_out / pull.max(LEAST_OHMS) } else { 0.0 }
            }
            // A coil that is none any more lets go.
            None if pulled => f64::INFINITY,
            None => 0.0,
        };
        if ratio >= 1.0 && first.is_none_or(|(most, _)| ratio > most) {
            first = Some((ratio, id));
        }
    }
    first.map(|(_, id)| id)
}

/// Coils near to where they would move, and interrupters near to where they would begin or cease to work.
fn near(question: &Question<'_>, config: &Config, volts: &[f64], out: &mut Vec<Near>) {
    let mut take = |id: ElementId, over: f64| {
        let over = over.ln();
        if over.abs() < NEAR {
            out.push(Near { id, over });
        }
    };
    for (&id, &own) in question.laws.watched.iter().zip(volts) {
        match (question.coil(id), question.wound.law(question.laws, id).0) {
            (Some((pull_in, drop_out)), _) => {
                let pull = question.pull(id, own, volts);
                // One that is at rest may have been held, had it been pulled in before.
                if config.pulled.binary_search(&id).is_err() {
                    take(id, pull / pull_in);
                }
                take(id, pull / drop_out);
            }
            (None, Law::Interrupter { ohms, works_volts, works_amps, .. }) if !config.apart.contains(&id) => {
                let amps = own.abs() / ohms.max(LEAST_OHMS);
                take(id, (own.abs() / works_volts).min(amps / works_amps) / question.wound.height(id));
            }
            _ => {}
        }
    }
}

/// Some coil at rest stands above its drop-out: had it been pulled in before, it would still be.
fn hanging(question: &Question<'_>, config: &Config, volts: &[f64]) -> bool {
    question.laws.watched.iter().zip(volts).any(|(&id, &own)| {
        question.coil(id).is_some_and(|(_, drop_out)| {
            question.pull(id, own, volts) >= drop_out && config.pulled.binary_search(&id).is_err()
        })
    })
}

/// Interrupters that work, taken together as fast or slow.
struct Group {
    ids: Vec<ElementId>,
    duty: f64,
}

impl Group {
    fn share(&self, closed: bool) -> f64 {
        match (self.ids.is_empty(), closed) {
            (true, _) => 1.0,
            (false, true) => self.duty,
            (false, false) => 1.0 - self.duty,
        }
    }
}

/// Which interrupters work: volts and amps, closed, reach what they need.
fn working(question: &Question<'_>, volts: &[f64]) -> (Group, Group) {
    let mut fast = Group { ids: Vec::new(), duty: 1.0 };
    let mut slow = Group { ids: Vec::new(), duty: 1.0 };
    for (&id, volts) in question.laws.watched.iter().zip(volts) {
        if let Law::Interrupter { ohms, hertz, duty, works_volts, works_amps, .. } =
            question.wound.law(question.laws, id).0
        {
            let amps = volts.abs() / ohms.max(LEAST_OHMS);
            let height = question.wound.height(id);
            if volts.abs() >= works_volts * height && amps >= works_amps * height && amps > SOME {
                let group = if *hertz >= SEEN { &mut fast } else { &mut slow };
                if group.ids.is_empty() {
                    group.duty = duty.clamp(0.0, 1.0);
                }
                group.ids.push(id);
            }
        }
    }
    (fast, slow)
}

/// The fuse that opens first within the state's time, and whether any opens or holds by a little only; `squares` are mean squares of volts over [`Laws::watched`].
fn blows(question: &Question<'_>, config: &Config, squares: &[f64]) -> (Option<ElementId>, bool) {
    let mut first: Option<(f64, ElementId)> = None;
    let mut close = false;
    for (&id, square) in question.laws.watched.iter().zip(squares) {
        if config.blown.binary_search(&id).is_ok() {
            continue;
        }
        if let Law::Contact { ohms, when: When::Fuse { amps, curve } } = question.wound.law(question.laws, id).0 {
            let ratio = square.sqrt() / ohms.max(LEAST_OHMS) / amps.max(LEAST_OHMS);
            if ratio <= 1.0 {
                continue;
            }
            let seconds = question.fuses.numbered(*curve).seconds(ratio) * question.wound.patience;
            close |= (LASTS / DOUBT..LASTS * DOUBT).contains(&seconds);
            if seconds <= LASTS && first.is_none_or(|(least, _)| seconds < least) {
                first = Some((seconds, id));
            }
        }
    }
    (first.map(|(_, id)| id), close)
}
