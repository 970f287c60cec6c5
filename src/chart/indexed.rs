//! Reduces a page to at most 256 colours, which makes the file a third of the size or less.
//!
//! A chart has few colours and the steps between them that smooth its edges. Colours are gathered
//! in classes of 8 × 8 × 8 values; each class is shown by its most frequent colour, and the rarest
//! classes past 256 by the nearest kept one.

/// A page as palette and one index for each pixel.
pub(super) struct Indexed {
    /// Red, green and blue of each colour.
    pub palette: Vec<u8>,
    /// Colour of each pixel.
    pub pixels: Vec<u8>,
}

#[derive(Clone, Copy)]
struct Class {
    key: u16,
    colour: [u8; 3],
    /// Lead of `colour` over the other colours of the class (majority vote in one pass).
    lead: u32,
    count: u32,
}

fn key(pixel: [u8; 3]) -> u16 {
    let part = |channel: u8| u16::from(channel >> 3);
    (part(pixel[0]) << 10) | (part(pixel[1]) << 5) | part(pixel[2])
}

/// Pixels that are looked at together: most of a chart is bare paper and passes as whole blocks.
const BLOCK: usize = 16;
const PAPER_BLOCK: [u8; 3 * BLOCK] = [255; 3 * BLOCK];
const PAPER_PIXEL: [u8; 3] = [255; 3];

/// The colour classes of a page while they are counted.
struct Census {
    /// Position in `classes` of each key.
    slots: Vec<u16>,
    classes: Vec<Class>,
}

impl Census {
    fn of(rgb: &[u8]) -> Census {
        let mut census = Census {
            slots: vec![u16::MAX; 1 << 15],
            classes: Vec::with_capacity(512),
        };
        let mut paper = 0u32;
        for block in rgb.chunks(3 * BLOCK) {
            if block == PAPER_BLOCK {
                paper = paper.saturating_add(BLOCK as u32);
                continue;
            }
            for pixel in block.as_chunks::<3>().0 {
                if *pixel == PAPER_PIXEL {
                    paper = paper.saturating_add(1);
                } else {
                    census.count(*pixel, 1);
                }
            }
        }
        census.count(PAPER_PIXEL, paper);
        // Most frequent first; the key settles ties, so that the order never depends on chance.
        census
            .classes
            .sort_by(|a, b| b.count.cmp(&a.count).then(a.key.cmp(&b.key)));
        census
    }

    fn count(&mut self, colour: [u8; 3], times: u32) {
        let Some(slot) = self.slots.get_mut(usize::from(key(colour))) else {
            return;
        };
        if let Some(class) = self.classes.get_mut(usize::from(*slot)) {
            class.count = class.count.saturating_add(times);
            if class.colour == colour {
                class.lead = class.lead.saturating_add(times);
            } else if class.lead >= times {
                class.lead -= times;
            } else {
                (class.colour, class.lead) = (colour, times - class.lead);
            }
        } else {
            *slot = u16::try_from(self.classes.len()).unwrap_or(u16::MAX);
            self.classes.push(Class {
                key: key(colour),
                colour,
                lead: times,
                count: times,
            });
        }
    }
}

/// Returns the page in `rgb` (three bytes a pixel) with at most 256 colours.
pub(super) fn reduce(rgb: &[u8]) -> Indexed {
    let classes = Census::of(rgb).classes;
    let kept: Vec<[u8; 3]> = classes.iter().take(256).map(|c| c.colour).collect();
    let mut index_of = vec![0u8; 1 << 15];
    for (rank, class) in classes.iter().enumerate() {
        let index = if rank < kept.len() {
            rank
        } else {
            nearest(&kept, class.colour)
        };
        if let Some(slot) = index_of.get_mut(usize::from(class.key)) {
            *slot = u8::try_from(index).unwrap_or(0);
        }
    }
    let index = |pixel: &[u8; 3]| index_of.get(usize::from(key(*pixel))).copied().unwrap_or(0);
    let paper = index(&PAPER_PIXEL);
    let mut indices = vec![paper; rgb.len() / 3];
    for (block, out) in rgb.chunks(3 * BLOCK).zip(indices.chunks_mut(BLOCK)) {
        if block != PAPER_BLOCK {
            for (pixel, slot) in block.as_chunks::<3>().0.iter().zip(out) {
                *slot = index(pixel);
            }
        }
    }
    Indexed {
        palette: kept.concat(),
        pixels: indices,
    }
}

fn nearest(kept: &[[u8; 3]], colour: [u8; 3]) -> usize {
    let distance = |other: &[u8; 3]| -> u32 {
        other
            .iter()
            .zip(colour)
            .map(|(a, b)| u32::from(a.abs_diff(b)).pow(2))
            .sum()
    };
    let best = kept.iter().enumerate().min_by_key(|(_, c)| distance(c));
    best.map_or(0, |(index, _)| index)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_colours_survive_exactly() {
        let rgb: Vec<u8> = [
            [255, 255, 255],
            [0, 114, 178],
            [255, 255, 255],
            [26, 26, 26],
        ]
        .concat();
        let page = reduce(&rgb);
        let back: Vec<u8> = page
            .pixels
            .iter()
            .flat_map(|i| page.palette[usize::from(*i) * 3..][..3].to_vec())
            .collect();
        assert_eq!(back, rgb);
    }

    #[test]
    fn many_colours_end_in_the_nearest() {
        // 32 768 classes, one pixel each: no more than 256 survive and none moves further than the
        // whole cube allows; the frequent one survives exactly.
        let mut rgb: Vec<u8> = Vec::new();
        for red in (0..=255).step_by(8) {
            for green in (0..=255).step_by(8) {
                for blue in (0..=255).step_by(8) {
                    rgb.extend([red as u8, green as u8, blue as u8]);
                }
            }
        }
        rgb.extend([7u8, 99, 201].repeat(50));
        let page = reduce(&rgb);
        assert!(page.palette.len() <= 768);
        let last = usize::from(*page.pixels.last().unwrap_or(&0));
        assert_eq!(&page.palette[last * 3..last * 3 + 3], &[7, 99, 201]);
    }
}
