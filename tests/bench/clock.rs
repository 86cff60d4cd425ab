//! What this process and its children have used of a processor, and of memory.
//!
//! On a machine that does other work too the wall's clock tells of that work; these do not. Linux says all three;
//! elsewhere the wall's clock has to do.

use std::time::Instant;

/// Seconds of a processor since `start`, of this thread; else of the wall.
pub struct Clock {
    start: f64,
    wall: Instant,
}

impl Clock {
    pub fn start() -> Clock {
        Clock { start: own().unwrap_or(0.0), wall: Instant::now() }
    }

    pub fn seconds(&self) -> f64 {
        own().map_or_else(|| self.wall.elapsed().as_secs_f64(), |now| now - self.start)
    }
}

/// Seconds that this thread has run.
fn own() -> Option<f64> {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").ok()?;
    Some(text.split_whitespace().next()?.parse::<f64>().ok()? * 1e-9)
}

/// Seconds that all threads of this process have run; hundredths.
pub fn workers() -> Option<f64> {
    ran(11)
}

/// Seconds that children have run which have ended; hundredths.
pub fn children() -> Option<f64> {
    ran(13)
}

/// Seconds from the kernel's two counts of ticks (user's and system's) at this place of its line about the process.
fn ran(place: usize) -> Option<f64> {
    let text = std::fs::read_to_string("/proc/self/stat").ok()?;
    let mut rest = text.rsplit(')').next()?.split_whitespace().skip(place);
    let ticks: f64 = rest.next()?.parse::<f64>().ok()? + rest.next()?.parse::<f64>().ok()?;
    Some(ticks * 0.01)
}

/// Memory of this process at its highest, MB.
pub fn peak() -> Option<f64> {
    let text = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    Some(line.split_whitespace().next()?.parse::<f64>().ok()? / 1024.0)
}

/// Other work on the machine: processes that want a processor (one minute's mean), and how many processors there are.
pub fn load() -> String {
    let mean = std::fs::read_to_string("/proc/loadavg").ok();
    let mean = mean.as_deref().and_then(|text| text.split_whitespace().next()).unwrap_or("unknown");
    let processors = std::thread::available_parallelism().map_or(1, usize::from);
    format!("load {mean} on {processors} processors")
}
