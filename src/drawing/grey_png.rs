//! A grey image as a PNG file.

use crate::calc::optics::picture::Grey;

/// The image as PNG, eight bits of grey, from linear light to what a screen shows (sRGB, IEC 61966-2-1).
///
/// # Errors
/// When the image's size and its values do not belong together.
pub fn encoded(grey: &Grey) -> Result<Vec<u8>, png::EncodingError> {
    let mut file = Vec::new();
    let size = |pixels: usize| u32::try_from(pixels).unwrap_or(u32::MAX);
    let mut encoder = png::Encoder::new(&mut file, size(grey.width), size(grey.height));
    encoder.set_color(png::ColorType::Grayscale);
    encoder.set_depth(png::BitDepth::Eight);
    let mut writer = encoder.write_header()?;
    let pixels: Vec<u8> = grey.values.iter().map(|value| screen(*value)).collect();
    writer.write_image_data(&pixels)?;
    writer.finish()?;
    Ok(file)
}

/// Linear light from 0 to 1 as the number that a screen takes.
fn screen(linear: f32) -> u8 {
    let v = linear.clamp(0.0, 1.0);
    let encoded = if v <= 0.003_130_8 { 12.92 * v } else { 1.055 * v.powf(1.0 / 2.4) - 0.055 };
    (encoded * 255.0).round() as u8
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_image_is_read_again_as_it_was_written() {
        let grey = Grey { width: 3, height: 2, values: vec![0.0, 1.0, 0.215_861, 0.5, 0.003, 2.0] };
        let file = encoded(&grey).expect("a PNG");
        let mut reader = png::Decoder::new(std::io::Cursor::new(&file)).read_info().expect("a PNG");
        let mut pixels = vec![0; 6];
        let info = reader.next_frame(&mut pixels).expect("a frame");
        assert_eq!((info.width, info.height), (3, 2));
        // half way up the screen's scale is 21.6 % of the light
        assert_eq!(pixels, [0, 255, 128, 188, 10, 255]);
    }

    #[test]
    fn a_size_that_does_not_fit_its_values_is_refused() {
        assert!(encoded(&Grey { width: 3, height: 2, values: vec![0.0] }).is_err());
    }
}
