//! Exit codes. Scripts rely on them; see README.md.

use std::process::ExitCode;

/// Each code and what it says.
pub const CODES: [(u8, &str); 3] = [
    (Exit::DONE, "done"),
    (Exit::NOT_MET, "done and not met (a finding that hurts, a fault not isolated)"),
    (Exit::UNUSABLE, "cannot be used"),
];

/// What a command came to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exit {
    /// Done.
    Done,
    /// Done, and what was asked for was not met: a finding that hurts or fails, a fault not isolated.
    NotMet,
    /// The command line or an input cannot be used; every problem was named.
    Unusable,
}

impl Exit {
    /// Done.
    pub const DONE: u8 = 0;
    /// Done, and not met.
    pub const NOT_MET: u8 = 1;
    /// Usage, or an input that cannot be used.
    pub const UNUSABLE: u8 = 2;
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> ExitCode {
        ExitCode::from(match exit {
            Exit::Done => Exit::DONE,
            Exit::NotMet => Exit::NOT_MET,
            Exit::Unusable => Exit::UNUSABLE,
        })
    }
}
