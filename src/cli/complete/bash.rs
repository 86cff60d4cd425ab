//! Bash. It parts words at `=` and `:` as well as at blanks, and names of faults and settings have both; so the words are
//! put together again from the line, and what stands before the last such sign is cut off what is offered.

use clap_complete::env::{Bash as Usual, EnvCompleter};
use std::ffi::OsString;
use std::io;
use std::path::Path;

/// The adapter.
pub struct Bash;

/// Works with the bash of a Mac (3.2) too, which has neither `compopt` nor `mapfile`.
const SCRIPT: &str = r#"_NAME_complete() {
    local line="${COMP_LINE:0:COMP_POINT}" words=() i raw quote="" cut="" breaks="" candidate
    for ((i = 0; i <= COMP_CWORD; i++)); do
        local rest="${line#"${line%%[![:space:]]*}"}" word="${COMP_WORDS[i]}"
        ((i == COMP_CWORD)) && word="$rest"
        if ((i > 0)) && [[ "$rest" == "$line" ]]; then
            words[${#words[@]}-1]+="$word"
        else
            words+=("$word")
        fi
        line="${rest#"$word"}"
    done
    i=$((${#words[@]} - 1))
    raw="${words[i]}"
    case "$raw" in
        \'* | \"*)
            quote="${raw:0:1}"
            words[i]="${raw:1}"
            ;;
        *)
            words[i]="${raw//\\/}"
            [[ "$COMP_WORDBREAKS" == *=* ]] && breaks="="
            [[ "$COMP_WORDBREAKS" == *:* ]] && breaks="$breaks:"
            if [[ -n "$breaks" && "$raw" == *[$breaks]* ]]; then
                cut="${raw%"${raw##*[$breaks]}"}"
                cut="${cut//\\/}"
            fi
            ;;
    esac
    COMPREPLY=()
    while IFS= read -r candidate || [[ -n "$candidate" ]]; do
        candidate="${candidate:${#cut}}"
        if [[ -z "$quote" ]]; then
            printf -v candidate %q "$candidate"
            candidate="${candidate//\\,/,}"
        fi
        COMPREPLY+=("$candidate")
    done < <(_CLAP_IFS=$'\n' _CLAP_COMPLETE_INDEX="$i" VAR=bash "COMPLETER" -- "${words[@]}" 2>/dev/null)
    if ((${#COMPREPLY[@]} == 1)) && [[ "${COMPREPLY[0]}" == *[=:/,] ]]; then
        compopt -o nospace 2>/dev/null
    fi
    return 0
}
complete -F _NAME_complete BIN"#;

impl EnvCompleter for Bash {
    fn name(&self) -> &'static str {
        Usual.name()
    }

    fn is(&self, name: &str) -> bool {
        Usual.is(name)
    }

    fn write_registration(
        &self,
        var: &str,
        name: &str,
        bin: &str,
        completer: &str,
        buf: &mut dyn io::Write,
    ) -> io::Result<()> {
        let script = SCRIPT.replace("NAME", &name.replace('-', "_"));
        let script = script.replace("BIN", bin).replace("COMPLETER", completer).replace("VAR", var);
        writeln!(buf, "{script}")
    }

    fn write_complete(
        &self,
        cmd: &mut clap::Command,
        args: Vec<OsString>,
        current_dir: Option<&Path>,
        buf: &mut dyn io::Write,
    ) -> io::Result<()> {
        Usual.write_complete(cmd, args, current_dir, buf)
    }
}
