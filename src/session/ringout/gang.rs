//! Shorts by halves: ways held together in two bunches, so that each pair is once in different ones.

/// Rounds of two bunches for so many ways: way `i` is in the second one of round `k` if bit `k` of `i` is set. No fewer
/// rounds part every pair: each round doubles at most the number of ways told apart (so Kautz's ceil(log2 q)).
pub fn rounds(ways: usize) -> Vec<[Vec<usize>; 2]> {
    let count = usize::BITS - ways.saturating_sub(1).leading_zeros();
    let round = |bit: u32| {
        let (second, first) = (0..ways).partition(|way| way >> bit & 1 == 1);
        [first, second]
    };
    (0..count).map(round).collect()
}

/// The same of ways by their nets: ways of one net are held on one side.
pub fn of_nets(nets: &[usize]) -> Vec<[Vec<usize>; 2]> {
    let mut known: Vec<usize> = Vec::new();
    for net in nets {
        if !known.contains(net) {
            known.push(*net);
        }
    }
    let ways =
        |bunch: Vec<usize>| (0..nets.len()).filter(|&way| bunch.iter().any(|&at| known[at] == nets[way])).collect();
    rounds(known.len()).into_iter().map(|[one, other]| [ways(one), ways(other)]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_pair_is_parted_and_no_fewer_rounds_could() {
        for ways in 2..40 {
            let rounds = rounds(ways);
            for a in 0..ways {
                for b in a + 1..ways {
                    assert!(rounds.iter().any(|[one, _]| one.contains(&a) != one.contains(&b)), "{ways}: {a} {b}");
                }
            }
            // W. H. Kautz, Testing for faults in wiring networks (1974), from memory: ceil(log2 q) tests for q nets.
            assert_eq!(rounds.len(), (ways as f64).log2().ceil() as usize, "{ways}");
        }
        assert!(rounds(1).is_empty() && rounds(0).is_empty());
    }

    /// All ways of dealing five ways into two bunches twice: some pair always stays together.
    #[test]
    fn two_rounds_never_part_five_ways() {
        for first in 0..32_u32 {
            for second in 0..32_u32 {
                let code = |way: u32| (first >> way & 1, second >> way & 1);
                let parted = (0..5).all(|a| (a + 1..5).all(|b| code(a) != code(b)));
                assert!(!parted);
            }
        }
    }
}
