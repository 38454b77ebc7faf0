//! A zip of stored (not compressed) files, as the OneRoster bundle asks for: PKWARE's APPNOTE 6.3,
//! local headers, central directory, end record. All files stand at the root.

/// Date 1 January 1980, time 0: a bundle of the same marks is the same bytes.
const DATE: u16 = 0x0021;

/// The zip's bytes.
pub(super) fn stored(files: &[(String, Vec<u8>)]) -> Vec<u8> {
    let mut out = Vec::new();
    let mut directory = Vec::new();
    for (name, bytes) in files {
        let offset = length(out.len());
        let mut header = Vec::new();
        // version 2.0, names in UTF-8, stored
        for field in [20_u16, 0x0800, 0, 0, DATE] {
            header.extend(field.to_le_bytes());
        }
        for field in [crc32(bytes), length(bytes.len()), length(bytes.len())] {
            header.extend(field.to_le_bytes());
        }
        header.extend(u16::try_from(name.len()).unwrap_or(u16::MAX).to_le_bytes());
        header.extend(0_u16.to_le_bytes());
        out.extend(b"PK\x03\x04");
        out.extend(&header);
        out.extend(name.as_bytes());
        out.extend(bytes);
        directory.extend(b"PK\x01\x02");
        directory.extend(20_u16.to_le_bytes());
        directory.extend(&header);
        // comment length, disk, internal and external attributes
        directory.extend([0; 10]);
        directory.extend(offset.to_le_bytes());
        directory.extend(name.as_bytes());
    }
    let (count, start, size) =
        (u16::try_from(files.len()).unwrap_or(u16::MAX), length(out.len()), length(directory.len()));
    out.extend(directory);
    out.extend(b"PK\x05\x06");
    out.extend([0; 4]);
    out.extend(count.to_le_bytes());
    out.extend(count.to_le_bytes());
    out.extend(size.to_le_bytes());
    out.extend(start.to_le_bytes());
    out.extend([0; 2]);
    out
}

/// A bundle of marks is far from four gigabytes.
fn length(bytes: usize) -> u32 {
    u32::try_from(bytes).unwrap_or(u32::MAX)
}

/// CRC-32 of ISO 3309, reflected, polynomial 0xEDB88320.
fn crc32(bytes: &[u8]) -> u32 {
    let mut crc = u32::MAX;
    for byte in bytes {
        crc ^= u32::from(*byte);
        for _ in 0..8 {
            crc = if crc & 1 == 1 { (crc >> 1) ^ 0xedb8_8320 } else { crc >> 1 };
        }
    }
    !crc
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The check value of CRC-32 (ISO 3309): "123456789" gives CBF43926.
    #[test]
    fn the_check_value_of_the_crc_is_met() {
        assert_eq!(crc32(b"123456789"), 0xcbf4_3926);
    }

    #[test]
    fn files_stand_in_the_zip_as_they_are() {
        let zip = stored(&[("a.csv".to_owned(), b"x,y".to_vec()), ("b.csv".to_owned(), Vec::new())]);
        assert!(zip.starts_with(b"PK\x03\x04") && zip.windows(3).any(|part| part == b"x,y"));
        assert_eq!(zip.windows(4).filter(|part| *part == b"PK\x01\x02").count(), 2);
        // the end record says where the directory begins
        let end = zip.len() - 22;
        let start = u32::from_le_bytes(zip[end + 16..end + 20].try_into().expect("four bytes")) as usize;
        assert_eq!(&zip[start..start + 4], b"PK\x01\x02");
    }
}
