//! Laws that the diffraction image obeys, and the constants of the theory.

use std::f64::consts::{PI, TAU};

use proptest::prelude::*;

use super::quadrature::integral;
use super::*;
use crate::calc::optics::hole_formula::holes_within_a_tenth;
use crate::calc::quantity::{FieldAngle, InsideDiameter, Wavelength};

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
    assert_eq!(
        refused.unwrap_err().to_string(),
        "must be from 0.01 to 6.797 mm at this distance and light: a wider hole throws a plain shadow"
    );
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
        let volume: f64 = image.transfer_nodes().iter().map(|(nu, w)| TAU * nu * w).sum();
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
        let area: f64 = image.transfer_nodes().iter().map(|(_, weighted)| 2.0 * weighted).sum();
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

/// Evenly over the powers of ten, so that as many small holes and distances are tried as large ones.
fn decades(from: f64, to: f64) -> impl Strategy<Value = f64> {
    (from.ln()..=to.ln()).prop_map(move |x| x.exp().clamp(from, to))
}

/// Every light: one wavelength, bands, film and paper in daylight.
fn any_light() -> impl Strategy<Value = Spectrum> {
    prop_oneof![
        (300.0..1100.0f64).prop_map(|lambda| Spectrum::single(nm(lambda))),
        Just(Spectrum::blue_only()),
        Just(Spectrum::blue_green()),
        Just(Spectrum::panchromatic()),
        Just(Spectrum::band(nm(400.0), nm(520.0), BandShape::Flat).unwrap()),
        Just(Spectrum::band(nm(400.0), nm(520.0), BandShape::Triangular).unwrap()),
    ]
}

/// The same with few bands, whose energy takes its time without optimisation.
fn mostly_single() -> impl Strategy<Value = Spectrum> {
    prop_oneof![7 => (300.0..1100.0f64).prop_map(|lambda| Spectrum::single(nm(lambda))), 1 => any_light()]
}

/// The hole's whole range.
fn any_hole() -> impl Strategy<Value = HoleDiameter> {
    decades(0.05, 5.0).prop_map(|d| HoleDiameter::new(d).unwrap())
}

/// The distance's whole range.
fn any_distance() -> impl Strategy<Value = HoleToFilm> {
    decades(10.0, 2000.0).prop_map(|v| HoleToFilm::new(v).unwrap())
}

/// A far subject, or one as near as there is.
fn any_subject() -> impl Strategy<Value = Option<SubjectDistance>> {
    proptest::option::of(decades(SubjectDistance::MIN, 1e6).prop_map(|u| SubjectDistance::new(u).unwrap()))
}

/// Flat film, or a can.
fn any_film() -> impl Strategy<Value = Film> {
    prop_oneof![
        any_distance().prop_map(Film::Flat),
        decades(10.0, 2000.0).prop_map(|d| Film::Curved(InsideDiameter::new(d).unwrap())),
    ]
}

fn any_direction() -> impl Strategy<Value = Direction> {
    prop_oneof![Just(Direction::Tangential), Just(Direction::Sagittal)]
}

fn angle(deg: f64) -> FieldAngle {
    FieldAngle::new(deg).unwrap()
}

/// The whole range is worked out: its very corner, in the shortest light, from the nearest subject.
#[test]
fn a_hole_of_5_mm_10_mm_from_film_and_subject_is_no_plain_shadow_yet() {
    let image = image(5.0, 10.0, Some(SubjectDistance::MIN), 300.0);
    assert!((image.fresnel_number() - 4166.7).abs() < 0.1, "{}", image.fresnel_number());
    // straight rays: a shadow of 10 mm, four fifths of the light within √0.8 of its radius
    assert!((image.encircled_radius(0.8) - 5.0 * 0.8f64.sqrt()).abs() < 0.01);
    assert!((image.contrast_limit(0.2) * 10.0 - 0.9808).abs() < 0.002, "{}", image.contrast_limit(0.2));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn contrast_starts_at_one_never_grows_beyond_and_ends_at_the_cut_off(
        hole in any_hole(), v in any_distance(), near in any_subject(), light in any_light(), part in 0.0..1.0f64,
    ) {
        let image = Diffraction::new(hole, v, near, light).unwrap();
        prop_assert_eq!(image.transfer(0.0), 1.0);
        prop_assert!((image.transfer(1e-9) - 1.0).abs() < 1e-6);
        let inside = image.transfer(part * image.cut_off_per_mm());
        prop_assert!(inside.abs() <= 1.0 + 1e-9, "{inside}");
        prop_assert_eq!(image.transfer(1.000_001 * image.cut_off_per_mm()), 0.0);
        prop_assert_eq!(image.transfer(3.0 * image.cut_off_per_mm()), 0.0);
    }

    #[test]
    fn away_from_the_axis_contrast_obeys_the_same_laws(
        hole in any_hole(), film in any_film(), near in any_subject(), light in any_light(),
        theta in 0.0..=85.0f64, direction in any_direction(), part in 0.0..1.0f64, level in 0.02..0.95f64,
    ) {
        let image = match Diffraction::off_axis(hole, film, near, light, angle(theta), direction) {
            Ok(image) => image,
            // only where the wall of a can comes close to the hole, or the hole is a good part of the can
            Err(shadow) => {
                let Film::Curved(inside) = film else { panic!("flat film has none: {shadow:?}") };
                prop_assert!(hole.as_mm() > shadow.greatest_mm && direction == Direction::Sagittal);
                prop_assert!(shadow.greatest_mm > 0.0 && shadow.shadow_mm >= hole.as_mm() * (1.0 - 1e-12));
                prop_assert!(inside.as_mm() * theta.to_radians().cos() < 10.0, "{inside:?} {theta}");
                return Ok(());
            }
        };
        prop_assert_eq!(image.transfer(0.0), 1.0);
        prop_assert!((image.transfer(1e-9) - 1.0).abs() < 1e-4, "{}", image.transfer(1e-9));
        let inside = image.transfer(part * image.cut_off_per_mm());
        prop_assert!(inside.abs() <= 1.0 + 1e-9, "{inside}");
        prop_assert_eq!(image.transfer(1.000_001 * image.cut_off_per_mm()), 0.0);
        let limit = image.contrast_limit(level);
        prop_assert!(limit > 0.0 && limit <= image.cut_off_per_mm(), "{limit}");
        prop_assert!((image.transfer(limit) - level).abs() < 1e-6, "{} {level}", image.transfer(limit));
        // a can's wall comes nearer towards the side: along the height its lines grow no coarser than its own shadow
        prop_assert!(image.edge_sharpness_per_mm().is_finite());
    }

    #[test]
    fn towards_the_axis_both_directions_become_the_image_on_it(
        hole in any_hole(), film in any_film(), near in any_subject(), light in any_light(),
        direction in any_direction(), part in 0.0..1.0f64,
    ) {
        let v = match film {
            Film::Flat(v) => v,
            Film::Curved(inside) => inside.hole_to_film(),
        };
        let on_axis = Diffraction::new(hole, v, near, light).unwrap();
        let at = |deg| Diffraction::off_axis(hole, film, near, light, angle(deg), direction).unwrap();
        prop_assert_eq!(at(0.0), on_axis);
        let nu = part * on_axis.cut_off_per_mm().min(3.0 / on_axis.shadow_mm());
        let off = |deg: f64| (at(deg).transfer(nu) - on_axis.transfer(nu)).abs();
        prop_assert!(off(1e-3) < 1e-6, "{} {}", off(1e-3), off(1.0));
        // the distances go with the square of the angle
        prop_assert!(off(0.1) < 0.02 * off(1.0) + 1e-6, "{} {}", off(0.1), off(1.0));
    }

    #[test]
    fn the_middle_is_four_sine_squared(hole in any_hole(), v in any_distance(), near in any_subject(), lambda in 300.0..1100.0f64) {
        let image = Diffraction::new(hole, v, near, Spectrum::single(nm(lambda))).unwrap();
        let got = image.point_spread(0.0).relative_intensity;
        let exact = 4.0 * (PI * image.fresnel_number() / 2.0).sin().powi(2);
        prop_assert!((got - exact).abs() < 1e-8, "{got} {exact}");
    }

    #[test]
    fn a_near_subject_only_shortens_the_distance(
        c in decades(0.3, 10.0), v in any_distance(), u in decades(10.0, 1e6),
    ) {
        // Same C at L = uv/(u+v): the same shape, spread by 1 + v/u.
        let l = 1.0 / (1.0 / v.as_mm() + 1.0 / u);
        let d = c * (550e-6 * l).sqrt();
        prop_assume!(l >= 5.0 && d < 5.0);
        let (near, far) = (image(d, v.as_mm(), Some(u), 550.0), image(d, l, None, 550.0));
        let spread = 1.0 + v.as_mm() / u;
        let nu = 0.4 / d / spread;
        prop_assert!((near.transfer(nu) - far.transfer(nu * spread)).abs() < 1e-9);
    }

    #[test]
    fn the_contrast_limit_is_where_the_contrast_is_at_the_level(
        hole in any_hole(), v in any_distance(), near in any_subject(), light in any_light(), level in 0.02..0.95f64,
    ) {
        let image = Diffraction::new(hole, v, near, light).unwrap();
        let limit = image.contrast_limit(level);
        prop_assert!((image.transfer(limit).abs() - level).abs() < 1e-6);
        for part in [0.98, 0.7, 0.3] {
            prop_assert!(image.transfer(limit * part).abs() > level, "{part}");
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    #[test]
    fn everything_is_finite_everywhere(
        hole in any_hole(), v in any_distance(), near in any_subject(), light in mostly_single(),
        part in 0.0..1.5f64, share in 0.02..0.98f64,
    ) {
        let image = Diffraction::new(hole, v, near, light).unwrap();
        let point = image.point_spread(part * image.radius_beyond_shadow_mm(5.0));
        prop_assert!(point.density_per_mm2 >= 0.0 && point.density_per_mm2.is_finite());
        prop_assert!((0.0..=4.0 + 1e-9).contains(&point.relative_intensity), "{point:?}");
        let steep = image.edge_sharpness_per_mm();
        prop_assert!(steep > 0.0 && steep.is_finite(), "{steep}");
        let radius = image.encircled_radius(share);
        prop_assert!(radius > 0.0 && radius.is_finite(), "{radius}");
        prop_assert!((0.0..=1.0).contains(&image.encircled_energy(part * radius)));
    }

    #[test]
    fn a_wider_circle_holds_more_and_the_radius_is_found_again(
        hole in any_hole(), v in any_distance(), near in any_subject(), light in mostly_single(), share in 0.05..0.95f64,
    ) {
        let image = Diffraction::new(hole, v, near, light).unwrap();
        let radius = image.encircled_radius(share);
        prop_assert!((image.encircled_energy(radius) - share).abs() < 1e-4);
        prop_assert!(image.encircled_energy(radius * 1.2) >= share - 1e-5);
        // no closer than straight rays or Airy's disc let it
        let least = (image.shadow_mm() / 2.0 * share.sqrt() * 0.3).min(0.3 * share / image.cut_off_per_mm());
        prop_assert!(radius > least, "{radius} {least}");
    }

    #[test]
    fn all_of_the_energy_arrives(
        hole in any_hole(), v in any_distance(), near in any_subject(), light in mostly_single(),
    ) {
        let image = Diffraction::new(hole, v, near, light).unwrap();
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
        v in any_distance(), near in any_subject(), lambda in 300.0..1100.0f64,
    ) {
        for (criterion, constant) in [(Criterion::Edge, 1.6094), (Criterion::Contrast(0.5), 1.3765)] {
            let best = sharpest_hole(v, near, Spectrum::single(nm(lambda)), criterion);
            prop_assert!((best.constant.as_number() - constant).abs() < 0.002, "{criterion:?} {best:?}");
        }
        let at = |v| sharpest_hole(v, near, Spectrum::blue_green(), Criterion::Edge).constant.as_number();
        let (here, there) = (at(v), at(HoleToFilm::new(100.0).unwrap()));
        prop_assert!((here - there).abs() < 5e-4, "{here} {there}");
    }
}
