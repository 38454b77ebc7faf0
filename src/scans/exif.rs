//! Orientation and resolution from EXIF, which is a small TIFF directory. Nothing else in it is looked at.

/// The two things that matter.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Exif {
    /// 1 to 8.
    pub orientation: Option<u8>,
    /// Pixels to the inch in x and y.
    pub dpi: Option<(f64, f64)>,
}

/// Reads the first directory; anything that does not fit is passed over.
pub fn read(data: &[u8]) -> Exif {
    let little = match data.get(..4) {
        Some([b'I', b'I', 42, 0]) => true,
        Some([b'M', b'M', 0, 42]) => false,
        _ => return Exif::default(),
    };
    let short = |at: usize| -> Option<u16> {
        let bytes = data.get(at..at.checked_add(2)?)?.try_into().ok()?;
        Some(if little { u16::from_le_bytes(bytes) } else { u16::from_be_bytes(bytes) })
    };
    let long = |at: usize| -> Option<u32> {
        let bytes = data.get(at..at.checked_add(4)?)?.try_into().ok()?;
        Some(if little { u32::from_le_bytes(bytes) } else { u32::from_be_bytes(bytes) })
    };
    let ratio = |at: usize| -> Option<f64> {
        let at = long(at)? as usize;
        Some(f64::from(long(at)?) / f64::from(long(at.checked_add(4)?)?))
    };
    let mut exif = Exif::default();
    let (mut x, mut y, mut unit) = (None, None, Some(2));
    let Some(start) = long(4).map(|start| start as usize) else { return exif };
    let entries = short(start).unwrap_or(0).min(512);
    for entry in 0..usize::from(entries) {
        let at = start + 2 + 12 * entry;
        let Some(tag) = short(at) else { break };
        match tag {
            274 => {
                exif.orientation =
                    short(at + 8).and_then(|value| u8::try_from(value).ok()).filter(|o| (1..=8).contains(o));
            }
            282 => x = ratio(at + 8),
            283 => y = ratio(at + 8),
            296 => unit = short(at + 8),
            _ => {}
        }
    }
    let inch = match unit {
        Some(2) => 1.0,
        Some(3) => 2.54,
        _ => return exif,
    };
    exif.dpi = x.zip(y).map(|(x, y)| (x * inch, y * inch));
    exif
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn half_a_directory_is_passed_over() {
        let mut data = b"II*\0\x08\0\0\0\x02\0".to_vec();
        data.extend([18, 1, 3, 0, 1, 0, 0, 0, 6, 0, 0, 0]); // orientation 6
        data.extend([26, 1, 5, 0, 1, 0, 0, 0, 255, 255, 255, 255]); // a resolution outside the data
        assert_eq!(read(&data), Exif { orientation: Some(6), dpi: None });
        for cut in 0..data.len() {
            read(&data[..cut]);
        }
        data[18] = 99;
        assert_eq!(read(&data).orientation, None);
    }
}
