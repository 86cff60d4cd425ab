//! One calm line for whoever waits: what is worked at, how far it is, about how long it will take.
//!
//! On standard error and only if that is a terminal; from the second second on; gone when the work is done.

use super::clock;
use ohmward::pace::{Pace, Seen, Work};
use std::io::{IsTerminal, Write};
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::thread::{self, JoinHandle};
use std::time::Duration;

/// Work that takes less is not worth a line.
const PATIENCE: Duration = Duration::from_secs(1);
/// The line is written anew so often.
const BEAT: Duration = Duration::from_millis(200);
/// What is left is told once so much of the stretch is done, and after so long.
const TOLD_FROM: f64 = 0.03;
/// The line is kept shorter than any terminal: one that wraps cannot be rewritten.
const WIDEST: usize = 78;
const NARROWEST: usize = 19;

/// Shows how far something has come as long as it lives.
pub struct Progress {
    stop: Option<Sender<()>>,
    hand: Option<JoinHandle<()>>,
}

impl Progress {
    /// Of this work, which may not have begun yet.
    pub fn of(pace: &Pace) -> Progress {
        if !std::io::stderr().is_terminal() {
            return Progress { stop: None, hand: None };
        }
        let (stop, stopped) = channel::<()>();
        let (pace, width) = (pace.clone(), width());
        let tell = move || {
            let begun = clock::now();
            let mut stretch = (0, begun);
            let mut written = 0;
            while stopped.recv_timeout(BEAT) == Err(RecvTimeoutError::Timeout) {
                let Some(seen) = pace.seen() else { continue };
                if seen.stretch != stretch.0 {
                    stretch = (seen.stretch, clock::now());
                }
                if begun.elapsed() >= PATIENCE {
                    written = put(&line(seen, stretch.1.elapsed(), width), written);
                }
            }
            put("", written);
        };
        Progress { stop: Some(stop), hand: thread::Builder::new().spawn(tell).ok() }
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        drop(self.stop.take());
        if let Some(hand) = self.hand.take() {
            let _ = hand.join();
        }
    }
}

/// Writes the line over the one before, which took so many columns; gives what this one takes. A terminal that is gone
/// hinders nothing.
fn put(line: &str, before: usize) -> usize {
    let columns = line.chars().count();
    let mut stderr = std::io::stderr().lock();
    let blank = " ".repeat(before.saturating_sub(columns));
    let back = if columns == 0 { "\r" } else { "" };
    if columns + before > 0 {
        let _ = write!(stderr, "\r{line}{blank}{back}").and_then(|()| stderr.flush());
    }
    columns
}

/// Columns that the line may take.
fn width() -> usize {
    let columns = super::prompt::terminal::columns().unwrap_or(WIDEST + 1);
    columns.saturating_sub(1).clamp(NARROWEST, WIDEST)
}

/// What is said of each sort of work.
fn words(work: Work) -> &'static str {
    match work {
        Work::Circuits => "making the circuit of each setting",
        Work::States => "looking at each setting",
        Work::Findings => "looking for trouble",
        Work::Suspects => "trying each fault",
        Work::Tests => "choosing the next test",
        Work::Steps => "planning the steps",
        Work::Chases => "chasing",
    }
}

/// `trying each fault: 412 of 1,300, about 8 s left`; on a narrow terminal as much of it as fits, the count first.
fn line(seen: Seen, elapsed: Duration, width: usize) -> String {
    if seen.of == 0 {
        // How many there are is not known yet.
        return words(seen.work).chars().take(width).collect();
    }
    let count = format!("{} of {}", grouped(seen.done), grouped(seen.of));
    let left = left(seen, elapsed).map_or_else(String::new, |left| format!(", about {left} left"));
    let whole = format!("{}: {count}{left}", words(seen.work));
    let fits = [whole, format!("{count}{left}"), count].into_iter().find(|line| line.chars().count() <= width);
    fits.unwrap_or_default()
}

/// What is left at the pace of this stretch so far, rounded to what can be known of it.
fn left(seen: Seen, elapsed: Duration) -> Option<String> {
    let part = seen.done as f64 / seen.of.max(1) as f64;
    // All pieces are done and something is still made of them: nobody knows how long that takes.
    if part < TOLD_FROM || seen.done == seen.of || elapsed < PATIENCE / 2 {
        return None;
    }
    let seconds = elapsed.as_secs_f64() * (1.0 - part) / part;
    Some(match seconds {
        s if s < 10.0 => format!("{:.0} s", s.ceil().max(1.0)),
        s if s < 90.0 => format!("{:.0} s", (s / 5.0).ceil() * 5.0),
        s if s < 5400.0 => format!("{:.0} min", (s / 60.0).ceil()),
        s => format!("{:.1} h", s / 3600.0),
    })
}

/// `1,300`.
fn grouped(number: usize) -> String {
    let digits = number.to_string();
    let mut out = String::new();
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out
}

/// Runs something and shows how far it is; nothing is left of the line when this returns.
pub fn shown<T>(pace: &Pace, work: impl FnOnce() -> T) -> T {
    let _progress = Progress::of(pace);
    work()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(done: usize, of: usize, seconds: f64, width: usize) -> String {
        line(Seen { stretch: 1, work: Work::Suspects, done, of }, Duration::from_secs_f64(seconds), width)
    }

    #[test]
    fn what_is_left_follows_the_pace_and_is_not_told_before_it_is_known() {
        assert_eq!(at(0, 0, 4.0, 78), "trying each fault");
        assert_eq!(at(412, 1300, 4.0, 78), "trying each fault: 412 of 1,300, about 9 s left");
        assert_eq!(at(10, 1300, 4.0, 78), "trying each fault: 10 of 1,300");
        assert_eq!(at(650, 1300, 0.2, 78), "trying each fault: 650 of 1,300");
        assert_eq!(at(1, 10, 3.0, 78), "trying each fault: 1 of 10, about 30 s left");
        assert_eq!(at(1, 10, 60.0, 78), "trying each fault: 1 of 10, about 9 min left");
        assert_eq!(at(1_199_999, 1_200_000, 60.0, 78), "trying each fault: 1,199,999 of 1,200,000, about 1 s left");
        assert_eq!(at(1_200_000, 1_200_000, 60.0, 78), "trying each fault: 1,200,000 of 1,200,000");
    }

    #[test]
    fn a_narrow_terminal_gets_less_and_never_more_than_fits() {
        assert_eq!(at(412, 1300, 4.0, 40), "412 of 1,300, about 9 s left");
        assert_eq!(at(412, 1300, 4.0, 19), "412 of 1,300");
        for width in 0..80 {
            assert!(at(412, 1300, 4.0, width).len() <= width);
        }
    }
}
