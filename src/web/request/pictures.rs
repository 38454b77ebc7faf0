//! Pictures that people send: decoded within limits and encoded anew, so that what is kept is the
//! picture and nothing else: no place, no camera's serial number, no hidden file.

use std::io::Cursor;

use axum::body::Bytes;
use image::{
    DynamicImage, ImageDecoder, ImageFormat, ImageReader, Limits, codecs::jpeg::JpegEncoder, metadata::Orientation,
};
use tokio::sync::Semaphore;

use super::takes::MOST_SENT;
use crate::web::kit::{error::WebError, slow_work::Turn};

/// What is kept has at most so many bytes; the database takes as many.
pub const MOST_KEPT: usize = 2 * 1024 * 1024;
/// Decoding may take so many bytes of memory, its own as well as the picture's: 40 megapixels of a plain photograph, 16 of
/// sixteen bits in four colours, 14 of a JPEG that is sent coarse first. What would take more is not decoded.
const MOST_MEMORY: u64 = 128 * 1024 * 1024;
/// Longest side of what is kept, in pixels: enough for a page, and for a sheet of paper.
const LONGEST_SIDE: u32 = 1_800;

/// One picture is decoded at a time; those who wait are the few who have a turn to send one.
static DECODING: Semaphore = Semaphore::const_new(1);

/// A picture as it is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Kept {
    /// `image/jpeg` or `image/png`.
    pub media_type: &'static str,
    /// Width in pixels.
    pub width: u32,
    /// Height in pixels.
    pub height: u32,
    /// The encoded picture.
    pub bytes: Vec<u8>,
}

/// What was sent is no picture we take.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotAPicture {
    /// Another kind of file.
    #[error("must be a JPEG or a PNG; this is another kind of file")]
    OtherKind,
    /// Too many bytes.
    #[error("must have at most {} MB", MOST_SENT / 1024 / 1024)]
    TooLarge,
    /// Too many pixels.
    #[error(
        "has {has} megapixels, and a picture of this kind may have {most}: take it smaller, or make it smaller first"
    )]
    TooManyPixels {
        /// How many it has, in millions, rounded up.
        has: u64,
        /// How many fit, in millions.
        most: u64,
    },
    /// It ends too early.
    #[error("is cut off: send it again")]
    CutOff,
    /// It cannot be decoded.
    #[error("cannot be read as a picture: it may be damaged")]
    Broken,
}

/// Decodes what was sent and encodes it anew, in its turn: decoding takes long, and memory in proportion to its pixels.
///
/// # Errors
/// 500 when the decoder breaks; within, when it is no JPEG or PNG, too large in bytes or pixels, cut off or damaged.
pub async fn kept(sent: Bytes, turn: Turn) -> Result<Result<Kept, NotAPicture>, WebError> {
    let alone = DECODING.acquire().await.map_err(|error| WebError::Ours(error.to_string()))?;
    // both end with the work, whoever hangs up: the next one's memory is not taken before this one's is free
    let work = move || {
        let kept = made_small(sent);
        drop(alone);
        kept
    };
    turn.run(work).await.map(|(kept, _turn)| kept)
}

fn made_small(sent: Bytes) -> Result<Kept, NotAPicture> {
    if sent.len() > MOST_SENT {
        return Err(NotAPicture::TooLarge);
    }
    encode(decode(sent)?)
}

/// What decoding takes of memory: the picture, and the coefficients of a JPEG that is sent coarse first, which are all kept
/// to the end, two bytes for each sample.
fn memory(pixels: u64, bytes_a_pixel: u64, coarse_first: bool) -> u64 {
    pixels.saturating_mul(bytes_a_pixel.saturating_mul(if coarse_first { 3 } else { 1 }))
}

fn decode(sent: Bytes) -> Result<(DynamicImage, ImageFormat), NotAPicture> {
    let format = match &*sent {
        [0xff, 0xd8, 0xff, ..] => ImageFormat::Jpeg,
        [0x89, b'P', b'N', b'G', 0x0d, 0x0a, 0x1a, 0x0a, ..] => ImageFormat::Png,
        _ => return Err(NotAPicture::OtherKind),
    };
    // a cut-off JPEG decodes without an error, grey where it is missing
    if format == ImageFormat::Jpeg && !jpeg_is_whole(&sent) {
        return Err(NotAPicture::CutOff);
    }
    let coarse_first = format == ImageFormat::Jpeg && jpeg_is_coarse_first(&sent);
    let reader = ImageReader::with_format(Cursor::new(&*sent), format);
    let mut decoder = reader.into_decoder().map_err(|_| NotAPicture::Broken)?;
    let (width, height) = decoder.dimensions();
    let (pixels, bytes_a_pixel) =
        (u64::from(width) * u64::from(height), u64::from(decoder.color_type().bytes_per_pixel()));
    if memory(pixels, bytes_a_pixel, coarse_first) > MOST_MEMORY {
        let most = MOST_MEMORY / memory(1, bytes_a_pixel, coarse_first) / 1_000_000;
        return Err(NotAPicture::TooManyPixels { has: pixels.div_ceil(1_000_000), most });
    }
    let mut limits = Limits::default();
    limits.max_alloc = Some(MOST_MEMORY);
    decoder.set_limits(limits).map_err(|_| NotAPicture::Broken)?;
    let orientation = decoder.orientation().unwrap_or(Orientation::NoTransforms);
    let picture = DynamicImage::from_decoder(decoder).map_err(|_| NotAPicture::Broken)?;
    // small first, then turned: turning makes a second picture of the same size
    let mut picture = shrunk(picture, LONGEST_SIDE);
    picture.apply_orientation(orientation);
    Ok((picture, format))
}

/// Whether a JPEG is sent coarse first and finer in later scans (ITU-T T.81, table B.1: the frame's marker is SOF2, or one
/// of its kin): its segments are walked to the frame's.
fn jpeg_is_coarse_first(sent: &[u8]) -> bool {
    let mut rest = sent.get(2..).unwrap_or_default();
    while let [0xff, marker, tail @ ..] = rest {
        match *marker {
            // a byte that only fills
            0xff => {
                rest = &rest[1..];
                continue;
            }
            0xc2 | 0xc6 | 0xca | 0xce => return true,
            0xc0 | 0xc1 | 0xc3 | 0xda => return false,
            _ => {}
        }
        let [high, low, ..] = tail else { return false };
        rest = tail.get(usize::from(u16::from_be_bytes([*high, *low]))..).unwrap_or_default();
    }
    false
}

/// Whether an end marker follows the last scan. Inside a scan neither marker can occur; a thumbnail
/// in the metadata has both, before it.
fn jpeg_is_whole(sent: &[u8]) -> bool {
    let last = |marker: [u8; 2]| sent.windows(2).rposition(|pair| pair == marker);
    match (last([0xff, 0xda]), last([0xff, 0xd9])) {
        (Some(scan), Some(end)) => end > scan,
        _ => false,
    }
}

fn encode((mut picture, format): (DynamicImage, ImageFormat)) -> Result<Kept, NotAPicture> {
    if format == ImageFormat::Png {
        let mut bytes = Vec::new();
        let written = picture.write_to(&mut Cursor::new(&mut bytes), ImageFormat::Png);
        if written.is_ok() && bytes.len() <= MOST_KEPT {
            return Ok(Kept { media_type: "image/png", width: picture.width(), height: picture.height(), bytes });
        }
    }
    // a scan's grain can be larger than it is worth: less fine, then smaller
    for (quality, side) in [(85, LONGEST_SIDE), (70, LONGEST_SIDE), (70, 1_200), (60, 800)] {
        picture = shrunk(picture, side);
        let mut bytes = Vec::new();
        let plain = DynamicImage::ImageRgb8(picture.to_rgb8());
        plain
            .write_with_encoder(JpegEncoder::new_with_quality(&mut bytes, quality))
            .map_err(|_| NotAPicture::Broken)?;
        if bytes.len() <= MOST_KEPT {
            return Ok(Kept { media_type: "image/jpeg", width: picture.width(), height: picture.height(), bytes });
        }
    }
    Err(NotAPicture::TooLarge)
}

fn shrunk(picture: DynamicImage, longest: u32) -> DynamicImage {
    if picture.width().max(picture.height()) <= longest {
        picture
    } else {
        // by averages: smoother filters keep the whole picture once more, in floating point
        picture.thumbnail(longest, longest)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::web::kit::slow_work::{Places, SlowWork};

    async fn kept(sent: Bytes) -> Result<Kept, NotAPicture> {
        let one = Places { at_once: 1, at_once_a_person: 1, waiting: 1, waiting_a_person: 1 };
        let turn = SlowWork::new(one).turn("Teodora").await.expect("a turn");
        super::kept(sent, turn).await.expect("no break")
    }

    fn grey(width: u32, height: u32) -> DynamicImage {
        let shade = |x: u32, y: u32| image::Luma([((x * 7 + y * 13) % 256) as u8]);
        DynamicImage::ImageLuma8(image::GrayImage::from_fn(width, height, shade))
    }

    fn sent(picture: &DynamicImage, format: ImageFormat) -> Bytes {
        let mut bytes = Vec::new();
        picture.write_to(&mut Cursor::new(&mut bytes), format).expect("encoded");
        bytes.into()
    }

    #[tokio::test]
    async fn a_jpeg_and_a_png_are_encoded_anew_and_made_small_enough() {
        let small = kept(sent(&grey(300, 200), ImageFormat::Png)).await.expect("a picture");
        assert_eq!((small.media_type, small.width, small.height), ("image/png", 300, 200));
        let large = kept(sent(&grey(4_000, 3_000), ImageFormat::Jpeg)).await.expect("a picture");
        assert_eq!((large.media_type, large.width, large.height), ("image/jpeg", 1_800, 1_350));
        assert!(large.bytes.len() <= MOST_KEPT);
    }

    #[tokio::test]
    async fn what_hangs_on_a_picture_is_gone() {
        let mut bytes = sent(&grey(40, 40), ImageFormat::Jpeg).to_vec();
        // a comment segment after the start marker
        let said = b"taken by Teodora Vask at home";
        let length = u16::try_from(said.len() + 2).expect("short").to_be_bytes();
        let segment: Vec<u8> = [0xff, 0xfe].into_iter().chain(length).chain(said.iter().copied()).collect();
        bytes.splice(2..2, segment);
        bytes.extend_from_slice(b"and a hidden tail");
        let kept = kept(bytes.into()).await.expect("a picture");
        let holds = |what: &[u8]| kept.bytes.windows(what.len()).any(|part| part == what);
        assert!(!holds(b"Vask") && !holds(b"hidden tail"));
    }

    #[tokio::test]
    async fn what_is_no_whole_picture_is_refused_with_the_reason() {
        assert_eq!(kept(Bytes::from_static(b"GIF89a")).await, Err(NotAPicture::OtherKind));
        assert_eq!(kept(Bytes::from_static(b"<svg onload=x>")).await, Err(NotAPicture::OtherKind));
        let whole = sent(&grey(200, 200), ImageFormat::Jpeg);
        assert_eq!(kept(whole.slice(..whole.len() / 2)).await, Err(NotAPicture::CutOff));
        let png = sent(&grey(200, 200), ImageFormat::Png);
        assert_eq!(kept(png.slice(..png.len() / 2)).await, Err(NotAPicture::Broken));
        assert_eq!(kept(vec![0; MOST_SENT + 1].into()).await, Err(NotAPicture::TooLarge));
        // a header that promises more pixels than anybody has memory for
        let mut bomb = sent(&grey(8, 8), ImageFormat::Png).to_vec();
        bomb[16..24].copy_from_slice(&[0, 1, 0, 0, 0, 1, 0, 0]);
        let refused = kept(bomb.into()).await.expect_err("a bomb");
        assert!(matches!(refused, NotAPicture::TooManyPixels { .. } | NotAPicture::Broken), "{refused:?}");
    }

    #[test]
    fn memory_is_reckoned_from_the_header_before_any_is_taken() {
        assert!(memory(40_000_000, 3, false) <= MOST_MEMORY, "a large photograph");
        assert!(memory(12_000_000, 3, true) <= MOST_MEMORY, "a usual one, coarse first");
        assert!(memory(39_700_000, 3, true) > MOST_MEMORY && memory(39_700_000, 8, false) > MOST_MEMORY);
        assert_eq!(memory(u64::MAX, 8, true), u64::MAX);
        let said = NotAPicture::TooManyPixels { has: 40, most: 16 }.to_string();
        assert!(said.starts_with("has 40 megapixels"), "{said}");
    }

    #[test]
    fn a_jpeg_that_is_sent_coarse_first_is_known_by_its_frame() {
        let plain = sent(&grey(16, 16), ImageFormat::Jpeg);
        assert!(!jpeg_is_coarse_first(&plain));
        let mut coarse = plain.to_vec();
        let frame = coarse.windows(2).position(|pair| pair == [0xff, 0xc0]).expect("a frame");
        coarse[frame + 1] = 0xc2;
        assert!(jpeg_is_coarse_first(&coarse));
        for cut in 0..coarse.len().min(frame) {
            assert!(!jpeg_is_coarse_first(&coarse[..cut]));
        }
    }

    #[test]
    fn a_turned_picture_stands_upright_when_it_is_small() {
        let wide = shrunk(grey(4_000, 1_000), LONGEST_SIDE);
        assert_eq!((wide.width(), wide.height()), (1_800, 450));
    }
}
