//! The sparse factorisation against a general dense library, and where such a library loses its digits.

use nalgebra::{DMatrix, DVector};
use ohmward::linear::{Factor, Symbolic};
use proptest::prelude::*;

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn as_a_general_library_solves_it(
        size in 1usize..40,
        raw in proptest::collection::vec((any::<prop::sample::Index>(), any::<prop::sample::Index>(), -2.0..2.0f64), 0..120),
        ties in proptest::collection::vec(0.1..3.0f64, 40),
        right in proptest::collection::vec(-10.0..10.0f64, 40),
        taps in proptest::collection::vec((any::<prop::sample::Index>(), -1.0..1.0f64), 1..11),
    ) {
        let edges: Vec<(usize, usize)> = raw.iter().map(|(a, b, _)| (a.index(size), b.index(size))).collect();
        let weights: Vec<f64> = raw.iter().map(|(_, _, log)| -10f64.powf(*log)).collect();
        let symbolic = Symbolic::analyse(size, &edges);
        let factor = Factor::new(&symbolic, &weights, &ties[..size]).unwrap();
        let mut dense = DMatrix::zeros(size, size);
        for (&(a, b), weight) in edges.iter().zip(&weights) {
            if a != b {
                dense[(a, b)] += weight;
                dense[(b, a)] += weight;
                dense[(a, a)] -= weight;
                dense[(b, b)] -= weight;
            }
        }
        for node in 0..size {
            dense[(node, node)] += ties[node];
        }
        let lu = dense.lu();
        let want = lu.solve(&DVector::from_column_slice(&right[..size])).unwrap();
        let got = factor.solve(&symbolic, &right[..size]);
        for (got, want) in got.iter().zip(want.iter()) {
            prop_assert!((got - want).abs() < 1e-9, "{} {}", got, want);
        }
        // Along the elimination tree's paths only.
        let mut work = vec![0.0; size];
        let taps: Vec<(usize, f64)> = taps.iter().map(|(node, weight)| (node.index(size), *weight)).collect();
        let path = factor.path(&symbolic, &taps, &mut work);
        prop_assert!(work.iter().all(|value| *value == 0.0));
        prop_assert!(path.windows(2).all(|pair| pair[0].0 < pair[1].0));
        let mut column = DVector::zeros(size);
        for &(node, weight) in &taps {
            column[node] += weight;
        }
        let answer = lu.solve(&column).unwrap();
        prop_assert!((factor.product(&path, &path) - column.dot(&answer)).abs() < 1e-9);
        let all = factor.solve_paths(&symbolic, [(&path, 2.0)]);
        for (got, want) in all.iter().zip(answer.iter()) {
            prop_assert!((got - 2.0 * want).abs() < 1e-9);
        }
    }
}

#[test]
fn sixteen_decades_cost_no_digits() {
    // Tie 1 S, then 1e4 S, 1e-12 S, 1e4 S in series: ohms from the far end are a sum known by hand.
    let edges = [(0, 1), (1, 2), (2, 3)];
    let symbolic = Symbolic::analyse(4, &edges);
    let factor = Factor::new(&symbolic, &[-1e4, -1e-12, -1e4], &[1.0, 0.0, 0.0, 0.0]).unwrap();
    let mut work = vec![0.0; 4];
    let path = factor.path(&symbolic, &[(3, 1.0)], &mut work);
    let want = 1.0 + 1e-4 + 1e12 + 1e-4;
    assert!((factor.product(&path, &path) / want - 1.0).abs() < 1e-14);
    let near = factor.path(&symbolic, &[(3, 1.0), (2, -1.0)], &mut work);
    assert!((factor.product(&near, &near) / 1e-4 - 1.0).abs() < 1e-12);
}

#[test]
fn what_is_tied_to_nothing_is_named() {
    let symbolic = Symbolic::analyse(3, &[(0, 1)]);
    let error = Factor::new(&symbolic, &[-1.0], &[1.0, 0.0, 0.0]).unwrap_err();
    assert_eq!(error.unknown, 2);
}

#[test]
fn a_harness_hardly_fills_in() {
    // A trunk with branches of five nodes, as harnesses are: at most a little over one entry a node, short paths.
    let mut edges = Vec::new();
    for trunk in 1..100 {
        edges.push((6 * trunk, 6 * (trunk - 1)));
    }
    for trunk in 0..100 {
        for at in 1..6 {
            edges.push((6 * trunk + at, 6 * trunk + at - 1));
        }
    }
    let symbolic = Symbolic::analyse(600, &edges);
    assert_eq!(symbolic.fill(), 599);
}
