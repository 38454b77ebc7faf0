//! The test figure as this camera would draw it: three holes side by side. Each picture has an address of its own
//! made of nothing but its numbers, is computed off the request path among other slow work, and kept.

use crate::{
    calc::{
        optics::{
            diffraction::{Diffraction, PlainShadow},
            hole_formula::reduced_distance_mm,
            picture::TestFigure,
            sharpness::Sharpness,
        },
        quantity::HoleDiameter,
        working::{figures, plain},
    },
    domain::{
        camera::{Camera, Film, Geometry},
        measure::length::{LengthUnit, computed_words},
    },
};

use super::Setup;

/// One of the three pictures, as the page shows it.
#[derive(Debug)]
pub struct View {
    /// Above it.
    pub name: &'static str,
    /// Its hole, in words.
    pub hole: String,
    /// Where the picture is; `None` where the image is nothing but the hole's shadow.
    pub address: Option<String>,
    /// What is seen.
    pub words: String,
    /// How that comes about, with the numbers put in.
    pub working: String,
}

/// The piece of the print that the pictures show: its size on paper and on the screen, and how the page says it.
#[derive(Debug)]
pub struct Piece {
    /// Its size in words: "54 by 36 mm".
    pub words: String,
    /// The whole print in words.
    pub print: String,
    /// The bars in words.
    pub bars: String,
    /// CSS pixels across and down that are print size: an inch has 96 of them.
    pub size: [u32; 2],
    /// The same through the loupe.
    pub enlarged: [u32; 2],
}

/// How much the loupe enlarges.
const LOUPE: f64 = 3.0;
/// CSS defines an inch as 96 pixels: on paper exactly, on a screen as nearly as it knows its own size.
const PIXELS_PER_MM: f64 = 96.0 / 25.4;

impl Piece {
    /// For the print of a camera.
    pub fn of(camera: &Camera) -> Self {
        let figure = figure(camera);
        let pixels =
            |times: f64| [figure.width_mm(), figure.height_mm()].map(|mm| (mm * PIXELS_PER_MM * times).round() as u32);
        let bars: Vec<_> = figure.bars_mm().iter().map(|mm| plain(*mm)).collect();
        let print = match camera.film() {
            Film::FlatRectangle { width, height, .. } | Film::Curved { width, height, .. } => {
                format!("{} by {}", width.typed, height.typed)
            }
            Film::FlatDisc { diameter, .. } => format!("{} across", diameter.typed),
        };
        let bars = match bars.split_last() {
            Some((last, rest)) if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
            _ => bars.join(""),
        };
        Self {
            words: format!("{} by {} mm", plain(figure.width_mm()), plain(figure.height_mm())),
            print,
            bars,
            size: pixels(1.0),
            enlarged: pixels(LOUPE),
        }
    }
}

/// The test figure for the print of a camera: a contact print is as large as the film.
pub fn figure(camera: &Camera) -> TestFigure {
    match camera.body.geometry() {
        Geometry::FlatRectangle(width, height) | Geometry::Curved(width, height, _) => TestFigure::on(width, height),
        Geometry::FlatDisc(diameter) => TestFigure::on_disc(diameter),
    }
}

/// The three holes: clearly narrower and clearly wider than the sharpest and than the student's own.
fn holes(setup: &Setup, sharpness: &Sharpness) -> [(&'static str, HoleDiameter); 3] {
    let (own, best) = (setup.diameter(), sharpness.best().hole);
    let clearly = |mm: f64| HoleDiameter::new(mm.clamp(HoleDiameter::MIN, HoleDiameter::MAX)).unwrap_or(own);
    let middle = if setup.hole.is_some() { "As measured" } else { "The target" };
    [
        ("Too narrow", clearly((best.as_mm() / 3.0).min(own.as_mm() / 1.5))),
        (middle, own),
        ("Too wide", clearly((best.as_mm() * 2.0).max(own.as_mm() * 1.5))),
    ]
}

fn image(setup: &Setup, hole: HoleDiameter) -> Result<Diffraction, PlainShadow> {
    Diffraction::new(hole, setup.camera.hole_to_film(), setup.camera.subject_distance(), setup.light.spectrum())
}

/// A picture's address: all that it depends on, lengths in nanometres, the figure's width in tenths of a millimetre.
fn key(setup: &Setup, hole: HoleDiameter) -> String {
    let nm = |mm: f64| (mm * 1e6).round() as i64;
    let subject = setup.camera.subject_distance().map_or("far".to_owned(), |u| nm(u.as_mm()).to_string());
    let figure = (figure(&setup.camera).width_mm() * 10.0).round();
    let (hole, v) = (nm(hole.as_mm()), nm(setup.camera.hole_to_film().as_mm()));
    format!("{hole}-{v}-{subject}-{}-{figure}.png", setup.light.slug())
}

/// The three pictures with what is seen on them.
pub(super) fn views(setup: &Setup, sharpness: &Sharpness, unit: LengthUnit) -> Vec<View> {
    let figure = figure(&setup.camera);
    holes(setup, sharpness)
        .map(|(name, hole)| {
            let image = image(setup, hole);
            View {
                name,
                hole: computed_words(hole.as_mm(), 3, unit),
                address: image.ok().map(|_| format!("/bench/hole/optics/seen/{}", key(setup, hole))),
                words: image.map_or_else(
                    |_| "Nothing but a blur as wide as the hole itself.".to_owned(),
                    |image| what_is_seen(&image, figure),
                ),
                working: match image {
                    Ok(image) => working(setup, hole, &image, figure),
                    Err(shadow) => format!(
                        "Straight rays: d (1 + v/u) = {} mm wide; diffraction is worked out up to {} mm at this distance and light.",
                        figures(shadow.shadow_mm, 3),
                        figures(shadow.greatest_mm, 3)
                    ),
                },
            }
        })
        .into()
}

/// The contrast of each width of bars, with the numbers put in.
fn working(setup: &Setup, hole: HoleDiameter, image: &Diffraction, figure: TestFigure) -> String {
    let lambda = setup.light.spectrum().mean_mm();
    let f = reduced_distance_mm(setup.camera.hole_to_film(), setup.camera.subject_distance());
    let bars: Vec<_> = figure
        .bars_mm()
        .iter()
        .map(|width| {
            format!(
                "{} at ν = {} per mm ({} mm)",
                figures(image.transfer(0.5 / width), 2),
                plain(0.5 / width),
                plain(*width)
            )
        })
        .collect();
    format!(
        "d = {} mm, v = {} mm, mean λ = {} mm: N = d² / (4 λ f′) = {}² / (4 × {} × {}) = {}; nothing is carried over beyond \
         d / (λv) = {} per mm. OTF(ν), ν = 1 / (2b): {}.",
        figures(hole.as_mm(), 3),
        plain(setup.camera.hole_to_film().as_mm()),
        figures(lambda, 3),
        figures(hole.as_mm(), 3),
        figures(lambda, 3),
        figures(f, 4),
        figures(image.fresnel_number(), 3),
        figures(image.cut_off_per_mm(), 3),
        bars.join(", ")
    )
}

/// The image behind an address, if it is one of this setup's three.
pub(super) fn image_of(setup: &Setup, sharpness: &Sharpness, asked: &str) -> Option<Diffraction> {
    let (_, hole) = holes(setup, sharpness).into_iter().find(|(_, hole)| key(setup, *hole) == asked)?;
    image(setup, hole).ok()
}

/// Bars with less than this share of their contrast run together.
const TOLD_APART: f64 = 0.1;

/// The picture in words: which of the bars can be told apart.
fn what_is_seen(image: &Diffraction, figure: TestFigure) -> String {
    let kept: Vec<_> = figure.bars_mm().iter().map(|width| (*width, image.transfer(0.5 / width))).collect();
    let percent = |share: f64| format!("{:.0} %", 100.0 * share.abs());
    let clear: Vec<_> = kept.iter().take_while(|(_, share)| *share >= TOLD_APART).collect();
    let turned = kept.iter().find(|(_, share)| *share <= -TOLD_APART / 2.0);
    let mut said = match (clear.first(), clear.last()) {
        (Some((widest, first)), Some((finest, last))) if widest != finest => format!(
            "Bars of {} mm keep {} of their contrast; the finest still told apart are {} mm wide ({}).",
            plain(*widest),
            percent(*first),
            plain(*finest),
            percent(*last)
        ),
        (Some((width, share)), _) => {
            format!(
                "Only the bars of {} mm are still told apart ({} of their contrast).",
                plain(*width),
                percent(*share)
            )
        }
        _ => "None of the bars can be told apart; the house is a grey shape.".to_owned(),
    };
    if let Some((width, _)) = turned {
        said.push_str(&format!(" Bars of {} mm come out reversed, dark where light should be.", plain(*width)));
    }
    said
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::{
        optics::diffraction::Spectrum,
        quantity::{FilmSide, HoleToFilm, Wavelength},
    };

    fn image(hole: f64) -> Diffraction {
        let light = Spectrum::single(Wavelength::new(550.0).expect("in range"));
        let hole = HoleDiameter::new(hole).expect("in range");
        Diffraction::new(hole, HoleToFilm::new(120.0).expect("in range"), None, light).expect("no plain shadow")
    }

    fn figure(width: f64) -> TestFigure {
        let side = |mm| FilmSide::new(mm).expect("in range");
        TestFigure::on(side(width), side(width))
    }

    #[test]
    fn the_words_name_the_finest_bars_that_are_told_apart() {
        let sharp = what_is_seen(&image(0.41), figure(100.0));
        assert!(sharp.contains("the finest still told apart are 0.125 mm wide"), "{sharp}");
        let wide = what_is_seen(&image(0.9), figure(100.0));
        assert!(wide.contains("reversed"), "{wide}");
        let hopeless = what_is_seen(&image(6.0), figure(100.0));
        assert!(hopeless.contains("None of the bars"), "{hopeless}");
    }
}
