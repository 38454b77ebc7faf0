//! Gauss-Legendre quadrature in equal panels.

use std::sync::LazyLock;

/// Nodes and weights on -1..1.
pub type Rule<const N: usize> = [(f64, f64); N];

/// For what oscillates: sixteen nodes a panel.
static SIXTEEN: LazyLock<Rule<16>> = LazyLock::new(rule);
/// For what is smooth: eight.
static EIGHT: LazyLock<Rule<8>> = LazyLock::new(rule);

/// How much phase a panel of sixteen nodes may have to follow, in radians: it then integrates an
/// oscillation to about 1e-14.
const PHASE: f64 = 12.0;

/// A phase that eight nodes follow as well.
const SMOOTH_PHASE: f64 = 2.0;

/// Roots of the Legendre polynomial by Newton's method, from the least, and their weights.
pub fn rule<const N: usize>() -> Rule<N> {
    std::array::from_fn(|i| {
        let n = N as f64;
        let mut x = -(std::f64::consts::PI * (i as f64 + 0.75) / (n + 0.5)).cos();
        let mut slope = 1.0;
        for _ in 0..50 {
            let (mut before, mut now) = (1.0, x);
            for k in 2..=N {
                let k = k as f64;
                (before, now) = (now, ((2.0 * k - 1.0) * x * now - (k - 1.0) * before) / k);
            }
            slope = n * (x * now - before) / (x * x - 1.0);
            x -= now / slope;
        }
        (x, 2.0 / ((1.0 - x * x) * slope * slope))
    })
}

/// How many panels follow a phase.
fn panels(phase: f64) -> usize {
    // A phase beyond any use of this program would saturate, not wrap.
    1 + (phase.abs() / PHASE) as usize
}

/// Nodes, from the first to the last, and weights of a range, close enough to follow a phase.
pub fn nodes(from: f64, to: f64, phase: f64) -> impl Iterator<Item = (f64, f64)> {
    let (rule, panels): (&'static [(f64, f64)], _) =
        if phase.abs() <= SMOOTH_PHASE { (&*EIGHT, 1) } else { (&*SIXTEEN, panels(phase)) };
    let half = (to - from) / panels as f64 / 2.0;
    (0..panels).flat_map(move |panel| {
        let middle = from + half * (2 * panel + 1) as f64;
        rule.iter().map(move |(x, w)| (middle + half * x, half * w))
    })
}

/// The integral over a range of what turns through a phase on the way.
pub fn integral(from: f64, to: f64, phase: f64, f: impl Fn(f64) -> f64) -> f64 {
    nodes(from, to, phase).map(|(x, w)| w * f(x)).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_polynomial_is_integrated_exactly() {
        let exact = 1.0 / 31.0;
        assert!((integral(0.0, 1.0, 3.0, |x| x.powi(30)) - exact).abs() < 1e-15);
    }

    #[test]
    fn the_nodes_of_a_range_come_in_order() {
        let places: Vec<f64> = nodes(1.0, 3.0, 30.0).map(|(x, _)| x).collect();
        assert_eq!(places.len(), 48);
        assert!(places.is_sorted() && places[0] > 1.0 && places[47] < 3.0, "{places:?}");
    }

    #[test]
    fn an_oscillation_is_followed_as_far_as_the_panels_say() {
        for phase in [1.0, 2.0, 11.9, 100.0, 7000.0] {
            let got = integral(0.0, 1.0, phase, |x| (phase * x).cos());
            assert!((got - phase.sin() / phase).abs() < 1e-13, "{phase}: {got}");
        }
    }
}
