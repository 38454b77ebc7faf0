//! How long a page's optics take on one core, and the same without care for the numbers beside it.
//!
//! `cargo bench --bench optics`; the comparison with a general numerical library is `benches/compare`.

use std::{f64::consts::PI, hint::black_box, time::Duration};

use askama::Template;
use criterion::{Criterion, criterion_group, criterion_main};
use shimlight::{
    calc::{
        optics::{
            covered::BentFilm,
            diffraction::{Diffraction, Film as ShapeOfFilm, Spectrum},
            field::magnification_working,
            picture::{self, TestFigure},
            plate::{cut_off_working, image_circle_working},
            sharpness::{Sharpness, finest_at_edge_working},
        },
        quantity::{
            FieldAngle, FilmSide, HoleDiameter, HoleToFilm, InsideDiameter, PlateThickness, SubjectDistance, Wavelength,
        },
    },
    domain::{
        camera::{
            Body, Build, Film, Typed,
            target::{edge_loss_working, picture_working, view_working},
        },
        measure::length::{Length, LengthUnit},
    },
    drawing::{camera_section::CameraSection, fall_off_map::FallOffMap, grey_png, sharpness_curve::SharpnessCurve},
};

fn hole(mm: f64) -> HoleDiameter {
    HoleDiameter::new(mm).expect("in range")
}

fn distance(mm: f64) -> HoleToFilm {
    HoleToFilm::new(mm).expect("in range")
}

fn side(mm: f64) -> FilmSide {
    FilmSide::new(mm).expect("in range")
}

fn green() -> Spectrum {
    Spectrum::single(Wavelength::new(550.0).expect("in range"))
}

/// A side-hole can of 120 mm, the session's usual camera.
fn can() -> Body {
    let mm = |value: f64| Typed { length: Length::from_mm(value), typed: format!("{value} mm") };
    let film = Film::Curved { inside_diameter: mm(120.0), width: mm(170.0), height: mm(120.0) };
    Body::new(Build::SideHoleCan, film).expect("a can")
}

/// The sharpest hole and its tolerance.
fn sharpest(light: Spectrum) -> Sharpness {
    Sharpness::of(distance(120.0), None, light)
}

/// The curve of 200 diameters, computed and drawn as the page draws it.
fn curve(sharpness: &Sharpness) -> usize {
    let drawn = SharpnessCurve::pair(["a", "b"], sharpness, hole(0.488), Some(hole(0.48)), LengthUnit::Millimetre);
    drawn.map(|curve| curve.render().expect("a drawing").len()).iter().sum()
}

/// The field: angles of view, fall-off, image circles, area covered, plate, scale, the camera in section and the lines
/// of equal light over the sheet.
fn field(body: &Body) -> usize {
    let (v, plate) = (body.hole_to_film(), PlateThickness::new(0.2).expect("in range"));
    let (bore, far) = (Some((hole(0.48), plate)), SubjectDistance::new(5000.0).expect("in range"));
    let film =
        BentFilm { arc: side(170.0), height: side(120.0), inside: InsideDiameter::new(120.0).expect("in range") };
    let workings = [
        view_working(body),
        edge_loss_working(body),
        image_circle_working(v, 1.0, bore),
        image_circle_working(v, 2.0, bore),
        film.covered_working(bore),
        cut_off_working(Some(v), hole(0.48), plate),
        magnification_working(far, v),
        picture_working(body, far, LengthUnit::Millimetre),
    ];
    let drawn = [
        CameraSection::of(body, "above").render(),
        CameraSection::from_side(body, "side").expect("a side").render(),
        FallOffMap::of("fall-off", body, bore).render(),
    ];
    let drawn: usize = drawn.into_iter().map(|svg| svg.expect("a drawing").len()).sum();
    workings.iter().map(|working| working.formula.len()).sum::<usize>() + drawn
}

/// All that a camera's page works out: the sharpest hole, its tolerance, the curve of 200 diameters, the sharpness of
/// the measured hole in the middle and at the edge, the field.
fn page(light: Spectrum, body: &Body) -> usize {
    let sharpness = sharpest(light);
    let measured = hole(0.48);
    let wall = ShapeOfFilm::Curved(InsideDiameter::new(120.0).expect("in range"));
    let edge = FieldAngle::new(40.6).expect("in range");
    let workings = [
        sharpness.best_working(),
        sharpness.tolerance_working(),
        sharpness.share_working(measured),
        sharpness.finest_lines_working(measured),
        sharpness.spot_working(measured),
        finest_at_edge_working(measured, wall, None, light, edge),
    ];
    curve(&sharpness) + field(body) + workings.iter().map(|working| working.formula.len()).sum::<usize>()
}

/// The slope of an edge as one would write it down first: trapezoids over the frequency, and for each the
/// transfer function by trapezoids as well, 400 of each (right to about 2e-4).
fn plain_slope(d: f64, v: f64, lambda: f64) -> f64 {
    const N: usize = 400;
    let a = d / 2.0;
    let u = 2.0 * PI * a * a / (lambda * v);
    let cut_off = d / (lambda * v);
    let otf = |nu: f64| {
        let s = lambda * v * nu / a;
        let end = 1.0 - s / 2.0;
        let f = |x: f64| (u * s * x).cos() * (1.0 - (x + s / 2.0).powi(2)).max(0.0).sqrt();
        let inner: f64 = (1..N).map(|i| f(end * i as f64 / N as f64)).sum();
        4.0 / PI * end / N as f64 * (inner + (f(0.0) + f(end)) / 2.0)
    };
    let inner: f64 = (1..N).map(|i| otf(cut_off * i as f64 / N as f64)).sum();
    2.0 * cut_off / N as f64 * (inner + (otf(0.0) + otf(cut_off)) / 2.0)
}

/// Sharpest hole, tolerance and curve the same way: a row of 24, the golden section, halving.
fn plain_page(v: f64, lambda: f64) -> f64 {
    let scale = (lambda * v).sqrt();
    let at = |c: f64| plain_slope(c * scale, v, lambda);
    let row = |i: usize| 0.6 + 0.1 * i as f64;
    let best = (0..=24).map(row).max_by(|a, b| at(*a).total_cmp(&at(*b))).expect("a row");
    let (mut low, mut high) = (best - 0.1, best + 0.1);
    while high - low > 1e-4 {
        let (a, b) = (high - 0.618_034 * (high - low), low + 0.618_034 * (high - low));
        if at(a) > at(b) { high = b } else { low = a }
    }
    let (best, top) = (low, at(low));
    let mut found = best;
    for side in [-1.0, 1.0] {
        let (mut good, mut bad) = (best, best + side * 0.5);
        while (bad - good).abs() > 1e-4 {
            let middle = (good + bad) / 2.0;
            if at(middle) >= 0.9 * top { good = middle } else { bad = middle }
        }
        found += good;
    }
    found + (0..200).map(|i| plain_slope(0.12 + 0.88 * i as f64 / 199.0, v, lambda)).sum::<f64>()
}

fn pages(c: &mut Criterion) {
    let mut group = c.benchmark_group("a page's optics");
    group.sample_size(10).measurement_time(Duration::from_secs(8));
    let body = can();
    let sharpness = sharpest(green());
    group.bench_function("one wavelength", |b| b.iter(|| page(black_box(green()), &body)));
    group.bench_function("one wavelength: sharpest hole and tolerance", |b| b.iter(|| sharpest(black_box(green()))));
    group.bench_function("one wavelength: curve of 200 diameters", |b| b.iter(|| curve(black_box(&sharpness))));
    group.bench_function("field", |b| b.iter(|| field(black_box(&body))));
    group.bench_function("paper in daylight (D55, 360 to 550 nm)", |b| {
        b.iter(|| page(black_box(Spectrum::blue_green()), &body));
    });
    group.bench_function("baseline: trapezoids, 400 by 400, one wavelength", |b| {
        b.iter(|| plain_page(black_box(120.0), 550e-6));
    });
    group.finish();
}

fn values(c: &mut Criterion) {
    let image = |d, v, light| Diffraction::new(hole(d), distance(v), None, light).expect("no plain shadow");
    let mut group = c.benchmark_group("one value");
    group.measurement_time(Duration::from_secs(3));
    let near = image(0.48, 120.0, green());
    group.bench_function("transfer, hole 0.48 mm, 120 mm", |b| b.iter(|| near.transfer(black_box(2.0))));
    let day = image(0.48, 120.0, Spectrum::blue_green());
    group.bench_function("transfer, the same in daylight", |b| b.iter(|| day.transfer(black_box(2.0))));
    let wide = image(5.0, 10.0, green());
    group.bench_function("transfer, hole 5 mm, 10 mm", |b| b.iter(|| wide.transfer(black_box(20.0))));
    group.bench_function("edge slope", |b| b.iter(|| black_box(&near).edge_sharpness_per_mm()));
    group.bench_function("baseline: edge slope by trapezoids", |b| {
        b.iter(|| plain_slope(black_box(0.48), 120.0, 550e-6));
    });
    group.bench_function("point spread", |b| b.iter(|| near.point_spread(black_box(0.2))));
    group.bench_function("radius of 80 % of the energy", |b| b.iter(|| black_box(&near).encircled_radius(0.8)));
    group.bench_function("contrast limit", |b| b.iter(|| black_box(&near).contrast_limit(0.2)));
    group.sample_size(20);
    let figure = TestFigure::on(side(170.0), side(120.0));
    group.bench_function("the test figure as a PNG", |b| {
        b.iter(|| grey_png::encoded(&picture::through(black_box(&day), figure)).expect("a PNG").len());
    });
    group.finish();
}

criterion_group!(benches, pages, values);
criterion_main!(benches);
