//! Laws that the diffraction image obeys, and the constants of the theory.

use std::f64::consts::{PI, TAU};

use proptest::prelude::*;

use super::quadrature::integral;
use super::*;
use crate::calc::optics::hole_formula::holes_within_a_tenth;
use crate::calc::quantity::Wavelength;

fn nm(x: f64) -> Wavelength {
    Wavelength::new(x).unwrap()
}

fn image(d: f64, v: f64, u: Option<f64>, lambda: f64) -> Diffraction {
    Diffraction::new(
        HoleDiameter::new(d).unwrap(),
        HoleToFilm::new(v).unwrap(),
        u.map(|u| SubjectDistance::new(u).unwrap()),
        Spectrum::single(nm(lambda)),
    )
    .unwrap()
}

fn band(d: f64, v: f64) -> Diffraction {
    let light = Spectrum::band(nm(400.0), nm(520.0), BandShape::Triangular).unwrap();
    Diffraction::new(HoleDiameter::new(d).unwrap(), HoleToFilm::new(v).unwrap(), None, light).unwrap()
}

/// A shadow without diffraction: `2 J1(x)/x`, `x = π ν d m`. Holds for N much greater than 1.
#[test]
fn a_large_hole_throws_a_geometrical_shadow() {
    let wide = image(5.0, 10.0, None, 550.0);
    for nu in [0.05, 0.1, 0.2] {
        let x = PI * nu * 5.0;
        let shadow = 2.0 * libm::j1(x) / x;
        assert!((wide.transfer(nu) - shadow).abs() < 2e-3, "{nu}: {}", wide.transfer(nu));
    }
    // Straight rays: half of the energy within 1/sqrt 2 of the radius.
    let half = image(2.0, 50.0, None, 550.0).encircled_radius(0.5);
    assert!((half - 1.0 / 2f64.sqrt()).abs() < 0.01, "{half}");
}

#[test]
fn a_hole_as_wide_as_its_camera_is_refused() {
    let hole = HoleDiameter::new(20.0).unwrap();
    let refused = Diffraction::new(hole, HoleToFilm::new(5.0).unwrap(), None, Spectrum::single(nm(550.0)));
    assert_eq!(refused.unwrap_err().to_string(), "the hole is too large for its distance: at most 4.806 mm");
}

/// Airy's ring: `EE = 1 - J0² - J1²` in the far field (Rayleigh's formula, from memory).
#[test]
fn a_small_hole_far_away_makes_airy_rings() {
    let airy = image(0.05, 2000.0, None, 550.0);
    for radius in [10.0, 25.0, 60.0] {
        let x = TAU * 0.025 * radius / (550e-6 * 2000.0);
        let expected = 1.0 - libm::j0(x).powi(2) - libm::j1(x).powi(2);
        let got = airy.encircled_energy(radius);
        assert!((got - expected).abs() < 1e-4, "{radius}: {got} {expected}");
    }
}

/// The area under the two-dimensional transfer function is the middle of the point spread.
#[test]
fn transfer_and_point_spread_belong_together() {
    for image in [image(0.35, 75.0, None, 550.0), image(0.5, 100.0, Some(1000.0), 460.0), band(0.4, 80.0)] {
        let volume: f64 = image.transfer_nodes(0.0).iter().map(|(nu, w)| TAU * nu * w).sum();
        let middle = image.point_spread(0.0).density_per_mm2;
        assert!((volume / middle - 1.0).abs() < 1e-4, "{volume} {middle}");
    }
}

/// The energy within a circle is the point spread added up.
#[test]
fn energy_is_the_point_spread_added_up() {
    for image in [image(0.35, 75.0, None, 550.0), band(0.4, 80.0), image(1.0, 50.0, Some(300.0), 500.0)] {
        let radius = 0.3;
        let added = integral(0.0, radius, 400.0, |r| TAU * r * image.point_spread(r).density_per_mm2);
        let got = image.encircled_energy(radius);
        assert!((got - added).abs() < 1e-5, "{got} {added}");
    }
}

/// Constants of the theory, computed for this project by two independent methods.
#[test]
fn every_criterion_finds_its_constant() {
    let v = HoleToFilm::new(100.0).unwrap();
    let c = |light, criterion| sharpest_hole(v, None, light, criterion).constant.as_number();
    let green = Spectrum::single(nm(550.0));
    let blue = Spectrum::band(nm(400.0), nm(520.0), BandShape::Flat).unwrap();
    for (criterion, single, in_band) in [
        (Criterion::Edge, 1.6094, 1.600),
        (Criterion::Contrast(0.5), 1.3765, 1.376),
        (Criterion::Contrast(0.2), 1.5235, 1.518),
        (Criterion::Contrast(0.1), 1.7785, 1.751),
        (Criterion::Energy(0.5), 1.4944, 1.484),
        (Criterion::Energy(0.8), 1.7935, 1.762),
    ] {
        let (got, got_in_band) = (c(green, criterion), c(blue, criterion));
        assert!((got - single).abs() < 0.002, "{criterion:?}: {got}, not {single}");
        assert!((got_in_band - in_band).abs() < 0.002, "{criterion:?}: {got_in_band}, not {in_band}");
    }
}

/// The steepness by chords is the area under the transfer function.
#[test]
fn an_edge_is_as_steep_as_the_transfer_function_is_wide() {
    let day = |d, v| {
        let (hole, v) = (HoleDiameter::new(d).unwrap(), HoleToFilm::new(v).unwrap());
        Diffraction::new(hole, v, None, Spectrum::blue_green()).unwrap()
    };
    for image in [
        image(0.05, 2000.0, None, 550.0),
        image(0.35, 75.0, None, 550.0),
        image(0.5, 100.0, Some(300.0), 460.0),
        image(2.0, 50.0, None, 550.0),
        image(5.0, 10.0, None, 400.0),
        band(0.4, 80.0),
        day(0.38, 120.0),
        day(1.0, 60.0),
    ] {
        let area: f64 = image.transfer_nodes(0.0).iter().map(|(_, weighted)| 2.0 * weighted).sum();
        let steep = image.edge_sharpness_per_mm();
        assert!((steep / area - 1.0).abs() < 2e-5, "{image:?}: {steep} {area}");
    }
}

/// Straight rays draw an edge `2/(π a m)` steep; Airy's disc one of `16a/(3πλv)`.
#[test]
fn an_edge_is_as_steep_as_its_limits_say() {
    let shadow = image(5.0, 10.0, Some(50.0), 550.0).edge_sharpness_per_mm();
    assert!((shadow / (2.0 / (PI * 2.5 * 1.2)) - 1.0).abs() < 2e-3, "{shadow}");
    let airy = image(0.05, 2000.0, None, 550.0).edge_sharpness_per_mm();
    assert!((airy / (16.0 * 0.025 / (3.0 * PI * 550e-6 * 2000.0)) - 1.0).abs() < 1e-4, "{airy}");
}

/// The tolerance that pages give beside the formula.
#[test]
fn a_tenth_of_the_sharpness_is_lost_at_the_constants_of_the_tolerance() {
    let v = HoleToFilm::new(100.0).unwrap();
    let best = image(1.6094 * (550e-6 * 100.0f64).sqrt(), 100.0, None, 550.0).edge_sharpness_per_mm();
    for hole in holes_within_a_tenth(v, nm(550.0), None) {
        let there = image(hole.as_mm(), 100.0, None, 550.0).edge_sharpness_per_mm();
        assert!((there / best - 0.9).abs() < 1e-4, "{hole:?}: {}", there / best);
    }
}

/// By every criterion the tolerance lies round its hole, and at its ends a tenth is gone.
#[test]
fn the_tolerance_lies_round_the_sharpest_hole() {
    let v = HoleToFilm::new(100.0).unwrap();
    let light = Spectrum::single(nm(550.0));
    for criterion in [Criterion::Edge, Criterion::Contrast(0.2), Criterion::Contrast(0.5), Criterion::Energy(0.8)] {
        let best = sharpest_hole(v, None, light, criterion);
        let ends = tolerance(v, None, light, criterion, best);
        assert!(ends[0] < best.hole && best.hole < ends[1], "{criterion:?}: {ends:?} {best:?}");
        let goodness = |hole| {
            let image = Diffraction::new(hole, v, None, light).unwrap();
            match criterion {
                Criterion::Edge => image.edge_sharpness_per_mm(),
                Criterion::Contrast(level) => image.contrast_limit(level),
                Criterion::Energy(share) => 1.0 / image.encircled_radius(share),
            }
        };
        for end in ends {
            let left = goodness(end) / goodness(best.hole);
            assert!((left - 0.9).abs() < 2e-3, "{criterion:?} {end:?}: {left}");
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(100))]

    #[test]
    fn contrast_starts_at_one_never_grows_beyond_and_ends_at_the_cut_off(
        d in 0.05..5.0f64, v in 10.0..2000.0f64, near in proptest::option::of(100.0..1e6f64),
        lambda in 350.0..700.0f64, part in 0.001..0.999f64,
    ) {
        let image = image(d, v, near, lambda);
        prop_assert!((image.transfer(1e-9) - 1.0).abs() < 1e-6);
        let inside = image.transfer(part * image.cut_off_per_mm());
        prop_assert!(inside.abs() <= 1.0 + 1e-12, "{inside}");
        prop_assert_eq!(image.transfer(1.000_001 * image.cut_off_per_mm()), 0.0);
    }

    #[test]
    fn the_middle_is_four_sine_squared(
        d in 0.05..5.0f64, v in 10.0..2000.0f64, lambda in 350.0..700.0f64,
    ) {
        let image = image(d, v, None, lambda);
        let got = image.point_spread(0.0).relative_intensity;
        let exact = 4.0 * (PI * image.fresnel_number() / 2.0).sin().powi(2);
        prop_assert!((got - exact).abs() < 1e-9, "{got} {exact}");
    }

    #[test]
    fn a_near_subject_only_shortens_the_distance(
        c in 0.5..3.0f64, v in 10.0..500.0f64, u in 100.0..5000.0f64,
    ) {
        // Same C at L = uv/(u+v): the same shape, spread by 1 + v/u.
        let l = 1.0 / (1.0 / v + 1.0 / u);
        let d = c * (550e-6 * l).sqrt();
        prop_assume!(l >= 5.0);
        let (near, far) = (image(d, v, Some(u), 550.0), image(d, l, None, 550.0));
        let spread = 1.0 + v / u;
        let nu = 0.4 / d / spread;
        prop_assert!((near.transfer(nu) - far.transfer(nu * spread)).abs() < 1e-9);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn a_wider_circle_holds_more_and_the_radius_is_found_again(
        c in 0.3..8.0f64, v in 10.0..2000.0f64, share in 0.05..0.95f64,
    ) {
        let d = c * (550e-6 * v).sqrt();
        prop_assume!((0.05..5.0).contains(&d));
        let image = image(d, v, None, 550.0);
        let radius = image.encircled_radius(share);
        prop_assert!((image.encircled_energy(radius) - share).abs() < 1e-4);
        prop_assert!(image.encircled_energy(radius * 1.2) >= share - 1e-6);
        prop_assert!(image.encircled_energy(radius * 50.0) <= 1.0);
    }

    #[test]
    fn the_contrast_limit_is_where_the_contrast_is_at_the_level(
        d in 0.05..2.0f64, v in 10.0..2000.0f64, level in 0.02..0.95f64,
    ) {
        let image = image(d, v, None, 550.0);
        let limit = image.contrast_limit(level);
        prop_assert!((image.transfer(limit).abs() - level).abs() < 1e-6);
        prop_assert!(image.transfer(limit * 0.98).abs() > level);
    }
}

/// Paper in daylight over the whole range of cameras: hole 0.05 to 5 mm, 10 to 2000 mm away.
fn any_light() -> impl Strategy<Value = Spectrum> {
    prop_oneof![
        (350.0..700.0f64).prop_map(|lambda| Spectrum::single(nm(lambda))),
        Just(Spectrum::blue_only()),
        Just(Spectrum::blue_green()),
        Just(Spectrum::band(nm(400.0), nm(520.0), BandShape::Flat).unwrap()),
        Just(Spectrum::band(nm(400.0), nm(520.0), BandShape::Triangular).unwrap()),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn everything_is_finite_everywhere(
        d in 0.05..5.0f64, v in 10.0..2000.0f64, near in proptest::option::of(100.0..1e6f64),
        light in any_light(), part in 0.0..1.5f64,
    ) {
        let hole = HoleDiameter::new(d).unwrap();
        let (v, near) = (HoleToFilm::new(v).unwrap(), near.map(|u| SubjectDistance::new(u).unwrap()));
        let Ok(image) = Diffraction::new(hole, v, near, light) else {
            prop_assert!(d > 4.0, "only the widest holes in the shortest cameras are plain shadows");
            return Ok(());
        };
        prop_assert_eq!(image.transfer(0.0), 1.0);
        let otf = image.transfer(part * image.cut_off_per_mm());
        prop_assert!(otf.abs() <= 1.0 + 1e-9, "{otf}");
        prop_assert!(part < 1.0 || otf == 0.0, "{otf}");
        let near_axis = image.point_spread(part * image.radius_beyond_shadow_mm(5.0));
        prop_assert!(near_axis.density_per_mm2 >= 0.0 && near_axis.density_per_mm2.is_finite());
        prop_assert!((0.0..=4.0 + 1e-9).contains(&near_axis.relative_intensity), "{near_axis:?}");
        let steep = image.edge_sharpness_per_mm();
        prop_assert!(steep > 0.0 && steep.is_finite(), "{steep}");
    }

    #[test]
    fn all_of_the_energy_arrives(
        d in 0.05..5.0f64, v in 10.0..2000.0f64, light in any_light(),
    ) {
        prop_assume!(d * d / (4.0 * 350e-6 * v) < 20.0);
        let (hole, v) = (HoleDiameter::new(d).unwrap(), HoleToFilm::new(v).unwrap());
        let image = Diffraction::new(hole, v, None, light).unwrap();
        // What is left outside falls off as 2/(πV) in Airy's case, more slowly nowhere.
        for beyond in [30.0, 150.0] {
            let inside = image.encircled_energy(image.radius_beyond_shadow_mm(beyond));
            prop_assert!(inside > 1.0 - 2.0 / beyond && inside <= 1.0, "{inside}");
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(8))]

    #[test]
    fn the_constant_of_the_sharpest_hole_depends_on_neither_distance_nor_wavelength(
        v in 10.0..2000.0f64, near in proptest::option::of(100.0..1e6f64), lambda in 350.0..700.0f64,
    ) {
        let (v, near) = (HoleToFilm::new(v).unwrap(), near.map(|u| SubjectDistance::new(u).unwrap()));
        for (criterion, constant) in [(Criterion::Edge, 1.6094), (Criterion::Contrast(0.5), 1.3765)] {
            let best = sharpest_hole(v, near, Spectrum::single(nm(lambda)), criterion);
            prop_assert!((best.constant.as_number() - constant).abs() < 0.002, "{criterion:?} {best:?}");
        }
        let at = |v| sharpest_hole(v, near, Spectrum::blue_green(), Criterion::Edge).constant.as_number();
        let (here, there) = (at(v), at(HoleToFilm::new(100.0).unwrap()));
        prop_assert!((here - there).abs() < 5e-4, "{here} {there}");
    }
}
