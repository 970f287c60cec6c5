//! The decoded PNG, read with the `png` crate's decoder as any viewer would.

/// A decoded picture.
pub struct Decoded {
    pub width: usize,
    pub height: usize,
    pub rgb: Vec<[u8; 3]>,
    pub texts: Vec<(String, String)>,
    pub pixels_per_metre: Option<u32>,
}

/// Decodes `png` to RGB.
pub fn decode(png: &[u8]) -> Decoded {
    let mut decoder = png::Decoder::new(std::io::Cursor::new(png));
    decoder.set_transformations(png::Transformations::EXPAND);
    let mut reader = decoder.read_info().unwrap();
    let mut bytes = vec![0; reader.output_buffer_size().unwrap()];
    let frame = reader.next_frame(&mut bytes).unwrap();
    assert_eq!(frame.color_type, png::ColorType::Rgb);
    reader.finish().unwrap();
    let info = reader.info();
    let mut texts: Vec<(String, String)> = info
        .uncompressed_latin1_text
        .iter()
        .map(|t| (t.keyword.clone(), t.text.clone()))
        .collect();
    texts.extend(
        info.utf8_text
            .iter()
            .map(|t| (t.keyword.clone(), t.get_text().unwrap())),
    );
    Decoded {
        width: frame.width as usize,
        height: frame.height as usize,
        rgb: bytes.chunks_exact(3).map(|p| [p[0], p[1], p[2]]).collect(),
        texts,
        pixels_per_metre: info.pixel_dims.map(|d| d.xppu),
    }
}

impl Decoded {
    /// Returns the text of a chunk.
    pub fn text(&self, keyword: &str) -> Option<&str> {
        self.texts
            .iter()
            .find(|t| t.0 == keyword)
            .map(|t| t.1.as_str())
    }

    /// Returns first and last row that hold a pixel of the signal's bluish grey: everything else on
    /// a bare figure is neutral, so a surplus of blue tells the signal even where it is faint.
    pub fn signal_rows(&self) -> Option<(usize, usize)> {
        let rows: Vec<usize> = (0..self.height)
            .filter(|y| {
                let row = &self.rgb[y * self.width..(y + 1) * self.width];
                row.iter().any(|p| p[2].saturating_sub(p[0]) >= 8)
            })
            .collect();
        Some((*rows.first()?, *rows.last()?))
    }

    /// Returns how many separate patches of `colour` (each channel within 12) there are, counting
    /// neighbours to the side and above as one patch.
    pub fn patches(&self, colour: [u8; 3]) -> usize {
        let hit = |i: usize| (0..3).all(|c| self.rgb[i][c].abs_diff(colour[c]) <= 12);
        let mut seen = vec![false; self.rgb.len()];
        let mut patches = 0;
        for start in 0..self.rgb.len() {
            if seen[start] || !hit(start) {
                continue;
            }
            patches += 1;
            let mut open = vec![start];
            seen[start] = true;
            while let Some(i) = open.pop() {
                let (x, y) = (i % self.width, i / self.width);
                let mut step = |inside: bool, j: usize| {
                    if inside && !seen[j] && hit(j) {
                        seen[j] = true;
                        open.push(j);
                    }
                };
                step(x > 0, i.wrapping_sub(1));
                step(x + 1 < self.width, i + 1);
                step(y > 0, i.wrapping_sub(self.width));
                step(y + 1 < self.height, i + self.width);
            }
        }
        patches
    }

    /// Returns how many pixels of two pictures differ.
    pub fn differing(&self, other: &Decoded) -> usize {
        self.rgb
            .iter()
            .zip(&other.rgb)
            .filter(|(a, b)| a != b)
            .count()
    }
}
