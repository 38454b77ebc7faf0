//! The questions of own figures: each with the student's own numbers, since every camera differs,
//! and the slips that can be told by where they lead.
//!
//! Partners share a camera, so one of them gets the camera as it is and every other a variation
//! of one value; about trays every student has a volume and a number of sheets of their own.

use crate::calc::{
    darkroom::dilution::{Parts, dilution, dilution_working},
    light::exposure::{exposure_time, exposure_time_working},
    optics::{
        field::{f_number, f_number_working, field_curved, field_disc, field_flat},
        hole_formula::{hole_diameter, hole_diameter_working, reduced_distance_mm},
    },
    quantity::{Ev100, FNumber, FilmSide, HoleDiameter, HoleToFilm, Millilitres},
    working::{figures, plain, seconds_text},
};

use super::own_figure::{Figure, Question, Slip, Unit};
use crate::domain::{
    camera::{Camera, Geometry, hole::Hole, target::HoleFormula},
    measure::length::{LengthUnit, typed_in},
    stock::{
        paper::{Paper, PaperKind},
        product::Product,
    },
};

/// What the questions are made from.
#[derive(Clone, Debug)]
pub struct Numbers<'a> {
    /// The student's camera.
    pub camera: Option<&'a Camera>,
    /// Its newest hole.
    pub hole: Option<&'a Hole>,
    /// The session's formula.
    pub formula: HoleFormula,
    /// The session's paper.
    pub paper: &'a Paper,
    /// What a working solution is mixed from: the session's developer.
    pub product: Option<&'a Product>,
    /// Which of the partners it is: 0 gets the camera as it is.
    pub partner: usize,
    /// Which place on the roster it is: for numbers that no camera gives.
    pub seat: usize,
    /// Whether its f-number is still to be worked out: then no other question may say it.
    pub f_number_is_held: bool,
}

impl Numbers<'_> {
    /// A length of the camera as a question says it: for a camera typed in inches, those stand beside.
    fn length(&self, mm: f64) -> String {
        let unit = self.camera.map_or(LengthUnit::Millimetre, |camera| typed_in(&camera.film().distance().typed));
        match unit {
            LengthUnit::Millimetre => format!("{} mm", plain(mm)),
            LengthUnit::Inch => format!("{} mm ({} in)", plain(mm), figures(mm / 25.4, 4)),
        }
    }
}

const LENGTHS: &[Unit] =
    &[Unit { sign: "mm", per: 1.0 }, Unit { sign: "in", per: 25.4 }, Unit { sign: "µm", per: 0.001 }];
const NUMBERS: &[Unit] = &[Unit { sign: "", per: 1.0 }];
const DEGREES: &[Unit] = &[Unit { sign: "°", per: 1.0 }];
const TIMES: &[Unit] = &[Unit { sign: "s", per: 1.0 }, Unit { sign: "min", per: 60.0 }];
const VOLUMES: &[Unit] =
    &[Unit { sign: "mL", per: 1.0 }, Unit { sign: "L", per: 1000.0 }, Unit { sign: "US fl oz", per: 29.573_529_562_5 }];
const MASSES: &[Unit] = &[Unit { sign: "mg", per: 1.0 }, Unit { sign: "g", per: 1000.0 }];

const RADIUS: &str = "This is the radius: the diameter is twice as much.";
const FROM_RADIUS: &str = "This comes from the radius of the hole where its diameter belongs.";
const FROM_DOUBLE: &str = "This comes from twice the diameter of the hole.";
const INCHES: &str = "Inches and millimetres were mixed: one inch is 25.4 mm.";
const THOUSAND: &str = "A factor of a thousand: look at the units’ prefixes.";
const TEN: &str = "A factor of ten: look at the decimal point.";
const UPSIDE_DOWN: &str = "The fraction is upside down.";

/// The question of a figure; `None` while its numbers are not there yet, or it is not for this
/// student.
pub fn question(figure: Figure, numbers: &Numbers<'_>) -> Option<Question> {
    let trays = numbers.camera.is_none_or(Camera::uses_trays);
    let mut question = match figure {
        Figure::HoleDiameter => hole(numbers),
        Figure::FNumber => aperture(numbers),
        Figure::AngleOfView => angle(numbers),
        Figure::ExposureTime => time(numbers),
        Figure::Dilution => trays.then(|| mix(numbers)).flatten(),
        Figure::Silver => trays.then(|| silver(numbers)).flatten(),
    }?;
    let value = question.value;
    // last, so that a slip of this question's own is named before a mere power of ten
    for (factor, words) in [(1000.0, THOUSAND), (0.001, THOUSAND), (10.0, TEN), (0.1, TEN)] {
        question.slips.push(Slip { gives: value * factor, words });
    }
    question.slips.retain(|slip| slip.gives.is_finite() && slip.gives > 0.0 && (slip.gives / value - 1.0).abs() > 0.02);
    Some(question)
}

/// Whether a figure is ever asked of a student with this camera.
pub fn applies(figure: Figure, camera: Option<&Camera>) -> bool {
    !figure.is_about_trays() || camera.is_none_or(Camera::uses_trays)
}

/// A value varied for the partner of that place, and whether it was: 15 % more for the second, 15 %
/// less for the third, 30 % more for the fourth …, to three figures.
fn varied(value: f64, partner: usize) -> (f64, bool) {
    if partner == 0 {
        return (value, false);
    }
    let step = 0.15 * (partner.div_ceil(2)).min(4) as f64;
    let factor = if partner % 2 == 1 { 1.0 + step } else { 1.0 - step };
    (figures(value * factor, 3).parse().unwrap_or(value), true)
}

fn as_it_is(is_varied: bool) -> &'static str {
    if is_varied { "Your partner has the camera as it is; you take it" } else { "Your camera" }
}

fn hole(numbers: &Numbers<'_>) -> Option<Question> {
    let camera = numbers.camera?;
    let (mm, is_varied) = varied(camera.hole_to_film().as_mm(), numbers.partner);
    let v = HoleToFilm::new(mm).ok()?;
    let subject = camera.subject_distance();
    let (wavelength, constant) = (numbers.formula.wavelength, numbers.formula.constant);
    let value = hole_diameter(v, wavelength, constant, subject).as_mm();
    let working = hole_diameter_working(v, wavelength, constant, subject);
    let (c, lambda, reduced) = (constant.as_number(), wavelength.as_nm() / 1e6, reduced_distance_mm(v, subject));
    let near = subject.map_or_else(
        || "the subject is far away, so f′ is that distance".to_owned(),
        |u| format!("the subject is {} from the hole: 1/f′ = 1/v + 1/u", numbers.length(u.as_mm())),
    );
    Some(Question {
        figure: Figure::HoleDiameter,
        words: format!(
            "{} with the film v = {} from the hole; {near}. The lab’s formula is d = C √(λ f′) with C = {} and λ = {} nm. How wide is the hole to be?",
            as_it_is(is_varied),
            numbers.length(mm),
            plain(c),
            plain(wavelength.as_nm())
        ),
        value,
        expected: working.value,
        expected_by: working.formula,
        units: LENGTHS,
        slips: vec![
            Slip { gives: value / 2.0, words: RADIUS },
            Slip {
                gives: value * 2.0,
                words: "This is twice the diameter: perhaps the result was taken for a radius.",
            },
            Slip { gives: value / 25.4, words: INCHES },
            Slip { gives: value * 25.4, words: INCHES },
            Slip {
                gives: c * lambda * reduced, words: "The square root was forgotten: λ f′ is a square of a length."
            },
            Slip { gives: value * value, words: "This is the square of the diameter: take the root." },
            Slip { gives: value / c, words: "The constant C was forgotten." },
            Slip { gives: value / c * c.sqrt(), words: "The constant C went under the root: it stands before it." },
            Slip {
                gives: value * 1e3_f64.sqrt(),
                words: "The wavelength is a power of ten off: 1 nm is a millionth of a millimetre.",
            },
            Slip {
                gives: value / 1e3_f64.sqrt(),
                words: "The wavelength is a power of ten off: 1 nm is a millionth of a millimetre.",
            },
        ],
    })
}

fn aperture(numbers: &Numbers<'_>) -> Option<Question> {
    let (camera, hole) = (numbers.camera?, numbers.hole?);
    let v = camera.hole_to_film();
    let (mm, is_varied) = varied(round3(hole.diameter().as_mm()), numbers.partner);
    let d = HoleDiameter::new(mm).ok()?;
    let value = f_number(v, d).as_number();
    let working = f_number_working(v, d);
    Some(Question {
        figure: Figure::FNumber,
        words: format!(
            "{} with a hole of {} and the film {} behind it. What is its f-number N?",
            as_it_is(is_varied),
            numbers.length(mm),
            numbers.length(v.as_mm())
        ),
        value,
        expected: working.value,
        expected_by: working.formula,
        units: NUMBERS,
        slips: vec![
            Slip { gives: value * 2.0, words: FROM_RADIUS },
            Slip { gives: value / 2.0, words: FROM_DOUBLE },
            Slip { gives: 1.0 / value, words: UPSIDE_DOWN },
            Slip { gives: value * 25.4, words: INCHES },
            Slip { gives: value / 25.4, words: INCHES },
            Slip { gives: value * value, words: "This is N²: the f-number itself is not squared." },
        ],
    })
}

fn angle(numbers: &Numbers<'_>) -> Option<Question> {
    let camera = numbers.camera?;
    let v = camera.hole_to_film();
    let (side, is_varied) = match camera.body.geometry() {
        Geometry::FlatRectangle(width, _) | Geometry::Curved(width, _, _) => varied(width.as_mm(), numbers.partner),
        Geometry::FlatDisc(diameter) => varied(diameter.as_mm(), numbers.partner),
    };
    let film = FilmSide::new(side).ok()?;
    let half = side / (2.0 * v.as_mm());
    let (value, form, formula) = match camera.body.geometry() {
        Geometry::FlatRectangle(_, height) => {
            let field = field_flat(film, height, v);
            (field.horizontal_deg, "flat film", format!("2 atan({} / (2 × {}))", plain(side), plain(v.as_mm())))
        }
        Geometry::FlatDisc(_) => {
            let field = field_disc(film, v);
            (field.diagonal_deg, "a disc of film", format!("2 atan({} / (2 × {}))", plain(side), plain(v.as_mm())))
        }
        Geometry::Curved(_, height, inside) => {
            let field = field_curved(film, height, inside);
            (
                field.horizontal_deg,
                "film along the can’s wall",
                format!("{} / {} rad", plain(side), plain(inside.as_mm())),
            )
        }
    };
    let curved = matches!(camera.body.geometry(), Geometry::Curved(..));
    let mut slips = vec![
        Slip { gives: value / 2.0, words: "This is half the angle: from the middle to one edge." },
        Slip { gives: value.to_radians(), words: "This is in radians: one radian is 57.3°." },
        Slip { gives: 2.0 * (half * 25.4).atan().to_degrees(), words: INCHES },
        Slip { gives: 2.0 * (half / 25.4).atan().to_degrees(), words: INCHES },
    ];
    if curved {
        slips.push(Slip {
            gives: value * 2.0,
            words: "This is the angle at the can’s middle: from the hole, on the wall, it is half of that.",
        });
        slips.push(Slip {
            gives: 2.0 * half.atan().to_degrees(),
            words: "This is the formula for flat film: along the wall the angle is arc over inside diameter.",
        });
    } else {
        slips.push(Slip {
            gives: 2.0 * (2.0 * half).atan().to_degrees(),
            words: "The whole side was put where half of it belongs.",
        });
        slips.push(Slip {
            gives: (2.0 * half).atan().to_degrees(),
            words: "This is atan(w/v): halve the film, then double the angle.",
        });
        slips.push(Slip {
            gives: (2.0 * half).to_degrees(),
            words: "Film over distance is an angle in radians only when it is small.",
        });
    }
    let distance = if curved { "the can’s inside diameter" } else { "the distance from hole to film" };
    let expected = format!("{}°", figures(value, 3));
    Some(Question {
        figure: Figure::AngleOfView,
        words: format!(
            "{} with {form}, {} across; {distance} is {}. How wide an angle does it see across?",
            as_it_is(is_varied),
            numbers.length(side),
            numbers.length(v.as_mm())
        ),
        value,
        expected_by: format!("{formula} = {expected}"),
        expected,
        units: DEGREES,
        slips,
    })
}

/// The lights that partners work out, in the order of their places: EV at ISO 100.
const LIGHTS: [f64; 4] = [15.0, 13.0, 12.0, 14.0];

fn time(numbers: &Numbers<'_>) -> Option<Question> {
    let (camera, hole) = (numbers.camera?, numbers.hole?);
    let n = f_number(camera.hole_to_film(), hole.diameter()).as_number().round();
    let aperture = FNumber::new(n).ok()?;
    let ev = LIGHTS[numbers.partner % LIGHTS.len()];
    let index = numbers.paper.exposure_index();
    let light = Ev100::new(ev).ok()?;
    let value = exposure_time(aperture, index, light).as_s();
    let working = exposure_time_working(aperture, index, light);
    let ei = index.as_number();
    // how many stops f/N lies above f/16, where full sun asks for 1/EI
    let stops = 2.0 * (n / 16.0).log2() + (15.0 - ev);
    Some(Question {
        figure: Figure::ExposureTime,
        words: format!(
            "Your camera at {}, on {} with an exposure index of {}, in a light of EV {} at ISO 100. How long is the metered exposure t = 100 N² / (2^EV · EI), before any reciprocity?",
            if numbers.f_number_is_held {
                "its f-number, which you work out above".to_owned()
            } else {
                format!("f/{}", plain(n))
            },
            numbers.paper.name,
            plain(ei),
            plain(ev)
        ),
        value,
        expected: seconds_text(value),
        expected_by: working.formula,
        units: TIMES,
        slips: vec![
            Slip { gives: value / n, words: "N was not squared: the time goes with the square of the f-number." },
            Slip {
                gives: value * 16.0 / n,
                words: "The f-numbers’ ratio was not squared: the time goes with its square.",
            },
            Slip { gives: stops / ei, words: "Stops were taken linearly: each one doubles the time." },
            Slip { gives: 2.0 * stops / ei, words: "Stops were taken linearly: each one doubles the time." },
            Slip {
                gives: 100.0 * n * n / (ev * ei),
                words: "Stops were taken linearly: 2^EV is a power, not EV itself.",
            },
            Slip {
                gives: 100.0 * n * n / (2.0 * ev * ei),
                words: "Stops were taken linearly: 2^EV is a power, not 2 × EV.",
            },
            Slip { gives: 1.0 / value, words: UPSIDE_DOWN },
            Slip {
                gives: value * ei * ei / 1e4,
                words: "The exposure index stands below the line: a slower paper takes longer.",
            },
            Slip { gives: value * 4.0, words: FROM_RADIUS },
            Slip { gives: value / 4.0, words: FROM_DOUBLE },
        ],
    })
}

fn mix(numbers: &Numbers<'_>) -> Option<Question> {
    let product = numbers.product?;
    let (a, b) = (product.parts_concentrate as f64, product.parts_water as f64);
    let parts = Parts::new(a, b).ok().filter(|_| b > 0.0)?;
    let total = 500.0 + 100.0 * (numbers.seat % 11) as f64;
    let volume = Millilitres::new(total).ok()?;
    let value = dilution(parts, volume).concentrate.as_ml();
    let working = dilution_working(parts, volume);
    Some(Question {
        figure: Figure::Dilution,
        words: format!(
            "The bottle of {} says {}. How much concentrate goes into {} mL of working solution?",
            product.name,
            product.parts(),
            plain(total)
        ),
        value,
        expected: format!("{} mL", figures(value, 3)),
        expected_by: working.formula,
        units: VOLUMES,
        slips: vec![
            Slip { gives: total * a / b, words: "The water was taken for the whole: a+b parts make it up." },
            Slip { gives: total * b / (a + b), words: "This is the water, not the concentrate." },
        ],
    })
}

fn silver(numbers: &Numbers<'_>) -> Option<Question> {
    if numbers.paper.kind != PaperKind::Paper {
        return None;
    }
    let (width, height) = match numbers.camera?.body.geometry() {
        Geometry::FlatRectangle(width, height) | Geometry::Curved(width, height, _) => (width.as_mm(), height.as_mm()),
        Geometry::FlatDisc(diameter) => (diameter.as_mm(), diameter.as_mm()),
    };
    let sheets = 6 + (numbers.seat % 7);
    let per_m2 = numbers.paper.silver_ug_per_m2 as f64 / 1e6;
    let area_m2 = width * height / 1e6;
    // a seventh of a gram is not a tray's worth: milligrams
    let value = sheets as f64 * area_m2 * per_m2 * 1000.0;
    if value <= 0.0 {
        return None;
    }
    let n = sheets as f64;
    let expected = format!("{} mg", figures(value, 3));
    Some(Question {
        figure: Figure::Silver,
        words: format!(
            "{sheets} sheets of {} × {} go through the fixer; this paper leaves {} g of silver there for every square metre. How much silver is that?",
            numbers.length(width),
            numbers.length(height),
            plain(per_m2)
        ),
        value,
        expected_by: format!(
            "m = n · w · h · s = {sheets} × {} m × {} m × {} g/m² = {expected}",
            plain(width / 1000.0),
            plain(height / 1000.0),
            plain(per_m2)
        ),
        expected,
        units: MASSES,
        slips: vec![
            Slip { gives: value / n, words: "This is one sheet’s silver: multiply by the sheets." },
            Slip { gives: value * 100.0, words: "Square units: 1 cm² is 100 mm², not 10, and 1 m² a million." },
            Slip { gives: value / 100.0, words: "Square units: 1 cm² is 100 mm², not 10, and 1 m² a million." },
            Slip { gives: value * 645.16, words: INCHES },
            Slip { gives: value / 645.16, words: INCHES },
            Slip { gives: value * 1e6, words: "Square units: 1 m² is a million square millimetres." },
            Slip { gives: value / per_m2, words: "The silver per square metre was forgotten: this is the area." },
        ],
    })
}

fn round3(value: f64) -> f64 {
    (value * 1000.0).round() / 1000.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        clock::World,
        domain::{
            camera::{Body, Build, Film, Typed, hole::Measurement},
            instant::Instant,
            marking::own_figure::{Ask, Outcome},
            measure::length::Length,
            stock::{paper::PaperBase, product::ProductKind, reciprocity_lines::ReciprocityLines},
        },
    };

    fn mm(value: f64) -> Typed {
        Typed { length: Length::from_mm(value), typed: format!("{value} mm") }
    }

    struct Bench {
        world: World,
        camera: Camera,
        hole: Hole,
        paper: Paper,
        product: Product,
    }

    fn at() -> Instant {
        Instant::from_micros(1_774_029_600_000_000).expect("in range")
    }

    /// A box of 128 mm with a hole of 0.5 mm: f/256; paper of EI 6; developer 1+9.
    fn bench(build: Build, film: Film) -> Bench {
        let world = World::fixed(at());
        let camera = Camera {
            id: world.mint(),
            section: world.mint(),
            number: 1,
            body: Body::new(build, film).expect("a camera"),
            subject: None,
            remark: String::new(),
            created_at: at(),
            version: 1,
        };
        let hole = Hole {
            id: world.mint(),
            camera: camera.id,
            measurement: Measurement::of(vec![mm(0.5), mm(0.5)], mm(0.01)).expect("two readings"),
            plate: None,
            remark: String::new(),
            measured_at: at(),
            recorded_by: world.mint(),
            version: 1,
        };
        let paper = Paper {
            id: world.mint(),
            site: world.mint(),
            kind: PaperKind::Paper,
            name: "Plain paper".to_owned(),
            base: PaperBase::Unknown,
            sees: crate::domain::stock::colours_seen::ColoursSeen::BlueAndGreen,
            index_from: String::new(),
            iso_speed_milli: None,
            daylight_factor_milli: 1_000,
            reciprocity_table: ReciprocityLines::default(),
            exposure_index_milli: 6_000,
            reciprocity_milli: 1_000,
            reciprocity_threshold_ms: 1_000,
            silver_ug_per_m2: 970_000,
            silver_low_ug_per_m2: 350_000,
            silver_high_ug_per_m2: 1_610_000,
            silver_source: String::new(),
            carry_over_ul_per_m2: 0,
            remark: String::new(),
            version: 1,
        };
        let product = Product::bare(world.mint(), world.mint(), ProductKind::Developer, "Developer", (1, 9));
        Bench { world, camera, hole, paper, product }
    }

    fn flat() -> Bench {
        bench(Build::Box, Film::FlatRectangle { distance: mm(128.0), width: mm(127.0), height: mm(102.0) })
    }

    impl Bench {
        fn ask(&self, figure: Figure, partner: usize, seat: usize) -> Option<Question> {
            let _ = &self.world;
            question(
                figure,
                &Numbers {
                    camera: Some(&self.camera),
                    hole: Some(&self.hole),
                    formula: HoleFormula::usual().expect("usual"),
                    paper: &self.paper,
                    product: Some(&self.product),
                    partner,
                    seat,
                    f_number_is_held: false,
                },
            )
        }
    }

    fn slip(question: &Question, answer: f64) -> &'static str {
        let ask = Ask { figure: question.figure, tolerance_milli: 10, least_figures: 1, most_figures: 9 };
        question.judge(ask, &format!("{answer:.9}"), question.units[0].sign).expect("a number").slip
    }

    /// Worked by hand from the formulas: d = 1.9 √(550e-6 × 128) mm = 0.504 mm; N = 128 / 0.5 = 256;
    /// 2 atan(127/256) = 52.8°; t = 100 × 256² / (2^15 × 6) = 33.3 s; 500 mL of 1+9 take 50 mL;
    /// 6 × 0.127 m × 0.102 m × 0.97 g/m² = 75.4 mg.
    #[test]
    fn a_box_of_128_mm_has_the_values_worked_by_hand() {
        let bench = flat();
        for (figure, by_hand) in [
            (Figure::HoleDiameter, 0.504_12),
            (Figure::FNumber, 256.0),
            (Figure::AngleOfView, 52.77),
            (Figure::ExposureTime, 33.333),
            (Figure::Dilution, 50.0),
            (Figure::Silver, 75.39),
        ] {
            let question = bench.ask(figure, 0, 0).expect("a question");
            assert!((question.value / by_hand - 1.0).abs() < 2e-4, "{figure:?}: {} for {by_hand}", question.value);
            let shown = format!("{} {}", question.expected, question.expected_by);
            assert!(
                !shown.trim().is_empty() && question.words.ends_with('?') || question.words.contains("How"),
                "{shown}"
            );
        }
    }

    #[test]
    fn partners_work_out_different_numbers_and_nobody_gets_the_others() {
        let bench = flat();
        for figure in [Figure::HoleDiameter, Figure::FNumber, Figure::AngleOfView, Figure::ExposureTime] {
            let values: Vec<f64> =
                (0..4).map(|partner| bench.ask(figure, partner, 0).expect("a question").value).collect();
            for (at, one) in values.iter().enumerate() {
                for other in &values[at + 1..] {
                    assert!((one / other - 1.0).abs() > 0.04, "{figure:?}: {values:?}");
                }
            }
        }
        let volumes: Vec<f64> = (0..11).map(|seat| bench.ask(Figure::Dilution, 0, seat).expect("one").value).collect();
        assert!(volumes.windows(2).all(|pair| pair[0] < pair[1]), "{volumes:?}");
    }

    #[test]
    fn the_slips_named_in_the_lab_are_recognised() {
        let bench = flat();
        let hole = bench.ask(Figure::HoleDiameter, 0, 0).expect("a question");
        assert_eq!(slip(&hole, hole.value / 2.0), RADIUS);
        assert_eq!(slip(&hole, hole.value / 25.4), INCHES);
        assert!(slip(&hole, 1.9 * 550e-6 * 128.0).starts_with("The square root"));
        let time = bench.ask(Figure::ExposureTime, 0, 0).expect("a question");
        assert!(slip(&time, 100.0 * 256.0 / (32_768.0 * 6.0)).contains("not squared"));
        // f/256 lies eight stops above f/16: 8 × 1/6 s instead of 2⁸ × 1/6 s
        assert!(slip(&time, 8.0 / 6.0).starts_with("Stops were taken linearly"));
        assert_eq!(slip(&time, time.value * 4.0), FROM_RADIUS);
        let aperture = bench.ask(Figure::FNumber, 0, 0).expect("a question");
        assert_eq!(slip(&aperture, 512.0), FROM_RADIUS);
        let mix = bench.ask(Figure::Dilution, 0, 0).expect("a question");
        assert!(slip(&mix, 500.0 / 9.0).contains("whole"));
        let silver = bench.ask(Figure::Silver, 0, 0).expect("a question");
        assert_eq!(slip(&silver, silver.value / 645.16), INCHES);
    }

    #[test]
    fn no_slip_lies_where_the_right_answer_does() {
        let bench = flat();
        for figure in Figure::ALL {
            let question = bench.ask(figure, 1, 3).expect("a question");
            for slip in &question.slips {
                assert!((slip.gives / question.value - 1.0).abs() > 0.02, "{figure:?}: {slip:?}");
            }
            let ask = Ask { figure, tolerance_milli: 1, least_figures: 1, most_figures: 9 };
            let typed = format!("{:.6e}", question.value);
            let judged = question.judge(ask, &typed, question.units[0].sign).expect("a number");
            assert_eq!((judged.outcome, judged.slip), (Outcome::Right, ""), "{figure:?}");
        }
    }

    #[test]
    fn a_can_asks_for_the_inscribed_angle() {
        let film = Film::Curved { inside_diameter: mm(120.0), width: mm(120.0), height: mm(90.0) };
        let question = bench(Build::SideHoleCan, film).ask(Figure::AngleOfView, 0, 0).expect("a question");
        assert!((question.value - 57.296).abs() < 0.001, "an arc as long as the diameter is one radian: {question:?}");
        assert!(slip(&question, 2.0 * question.value).contains("middle"));
    }

    #[test]
    fn film_in_a_body_cap_is_not_asked_about_trays() {
        let film = Film::FlatRectangle { distance: mm(45.0), width: mm(36.0), height: mm(24.0) };
        let bench = bench(Build::BodyCap, film);
        assert!(bench.ask(Figure::Dilution, 0, 0).is_none() && bench.ask(Figure::Silver, 0, 0).is_none());
        assert!(bench.ask(Figure::FNumber, 0, 0).is_some());
        assert!(!applies(Figure::Silver, Some(&bench.camera)) && applies(Figure::Silver, None));
    }
}
