//! Pictures that people send: decoded within limits and encoded anew, so that what is kept is the
//! picture and nothing else: no place, no camera's serial number, no hidden file.

use std::io::Cursor;

use axum::body::Bytes;
use image::{
    DynamicImage, ImageDecoder, ImageFormat, ImageReader, Limits, codecs::jpeg::JpegEncoder, imageops::FilterType,
    metadata::Orientation,
};
use tokio::sync::Semaphore;

/// More bytes than this are not taken from anybody.
pub const MOST_SENT: usize = 16 * 1024 * 1024;
/// What is kept has at most so many bytes; the database takes as many.
pub const MOST_KEPT: usize = 2 * 1024 * 1024;
/// A picture of more pixels is not decoded: it would take the memory of everybody else.
const MOST_PIXELS: u64 = 40_000_000;
/// Longest side of what is kept, in pixels: enough for a page, and for a sheet of paper.
const LONGEST_SIDE: u32 = 1_800;

/// One picture at a time: decoding takes memory in proportion to its pixels.
static ONE_AT_A_TIME: Semaphore = Semaphore::const_new(1);

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
    #[error("must have at most {} megapixels: take it smaller, or make it smaller first", MOST_PIXELS / 1_000_000)]
    TooManyPixels,
    /// It ends too early.
    #[error("is cut off: send it again")]
    CutOff,
    /// It cannot be decoded.
    #[error("cannot be read as a picture: it may be damaged")]
    Broken,
}

/// Decodes what was sent and encodes it anew.
///
/// # Errors
/// When it is no JPEG or PNG, too large in bytes or pixels, cut off or damaged.
pub async fn kept(sent: Bytes) -> Result<Kept, NotAPicture> {
    if sent.len() > MOST_SENT {
        return Err(NotAPicture::TooLarge);
    }
    let _turn = ONE_AT_A_TIME.acquire().await.map_err(|_| NotAPicture::Broken)?;
    // decoding takes long: away from the threads that answer everybody
    tokio::task::spawn_blocking(move || encode(decode(&sent)?)).await.map_err(|_| NotAPicture::Broken)?
}

fn decode(sent: &[u8]) -> Result<(DynamicImage, ImageFormat), NotAPicture> {
    let format = match sent {
        [0xff, 0xd8, 0xff, ..] => ImageFormat::Jpeg,
        [0x89, b'P', b'N', b'G', 0x0d, 0x0a, 0x1a, 0x0a, ..] => ImageFormat::Png,
        _ => return Err(NotAPicture::OtherKind),
    };
    // a cut-off JPEG decodes without an error, grey where it is missing
    if format == ImageFormat::Jpeg && !jpeg_is_whole(sent) {
        return Err(NotAPicture::CutOff);
    }
    let reader = |sent| ImageReader::with_format(Cursor::new(sent), format);
    let (width, height) = reader(sent).into_dimensions().map_err(|_| NotAPicture::Broken)?;
    if u64::from(width) * u64::from(height) > MOST_PIXELS {
        return Err(NotAPicture::TooManyPixels);
    }
    let mut decoder = reader(sent).into_decoder().map_err(|_| NotAPicture::Broken)?;
    let mut limits = Limits::default();
    limits.max_alloc = Some(512 * 1024 * 1024);
    decoder.set_limits(limits).map_err(|_| NotAPicture::TooManyPixels)?;
    let orientation = decoder.orientation().unwrap_or(Orientation::NoTransforms);
    let mut picture = DynamicImage::from_decoder(decoder).map_err(|_| NotAPicture::Broken)?;
    picture.apply_orientation(orientation);
    Ok((picture, format))
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

fn encode((picture, format): (DynamicImage, ImageFormat)) -> Result<Kept, NotAPicture> {
    let mut picture = shrunk(picture, LONGEST_SIDE);
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
        picture.resize(longest, longest, FilterType::Triangle)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

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
        assert!(matches!(refused, NotAPicture::TooManyPixels | NotAPicture::Broken), "{refused:?}");
    }
}
