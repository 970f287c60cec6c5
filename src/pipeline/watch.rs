//! Files that arrive while we watch: which are complete, and whether anything has changed.

use super::{Discovered, FoundFile};
use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;
use std::time::SystemTime;

/// Size and time of last change of a file.
type Mark = (u64, Option<SystemTime>);

/// Remembers what was seen at the last look.
///
/// A file counts as complete when its size and its time of last change are the same at two looks in
/// a row. A copy that pauses for longer than the time between two looks is taken for complete; its
/// rest makes it a changed file at the next look, and both versions are kept.
#[derive(Debug, Default)]
pub struct Watch {
    seen: BTreeMap<PathBuf, Mark>,
    taken: BTreeMap<PathBuf, Mark>,
}

/// What a look came to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Looked {
    /// Complete files.
    pub complete: BTreeSet<PathBuf>,
    /// Files still arriving.
    pub arriving: usize,
    /// Complete files that are new or changed since the last time they were taken in.
    pub fresh: usize,
}

impl Watch {
    /// Looks at the files found; files that cannot be looked at have just gone, and do not count.
    pub fn look(&mut self, found: &Discovered) -> Looked {
        let marks: BTreeMap<PathBuf, Mark> = found.files.iter().filter_map(mark).collect();
        let complete: BTreeMap<PathBuf, Mark> = marks
            .iter()
            .filter(|(path, mark)| self.seen.get(*path) == Some(*mark))
            .map(|(path, mark)| (path.clone(), *mark))
            .collect();
        let fresh = complete
            .iter()
            .filter(|(path, mark)| self.taken.get(*path) != Some(*mark))
            .count();
        let looked = Looked {
            arriving: marks.len() - complete.len(),
            fresh,
            complete: complete.keys().cloned().collect(),
        };
        self.seen = marks;
        if fresh > 0 {
            self.taken = complete;
        }
        looked
    }
}

fn mark(file: &FoundFile) -> Option<(PathBuf, Mark)> {
    let about = std::fs::metadata(&file.path).ok()?;
    Some((file.path.clone(), (about.len(), about.modified().ok())))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "tests may stop")]
    use super::super::discover;
    use super::*;

    #[test]
    fn a_file_counts_once_it_has_stopped_growing() {
        let day = tempfile::tempdir().unwrap();
        let out = day.path().join("out");
        let put = |name: &str, text: &str| std::fs::write(day.path().join(name), text).unwrap();
        let find = || discover(&[day.path().to_owned()], &out).unwrap();
        let mut watch = Watch::default();
        put("a.csv", "1");
        assert_eq!(watch.look(&find()).arriving, 1);
        put("b.csv", "1");
        let looked = watch.look(&find());
        assert_eq!(
            (looked.complete.len(), looked.arriving, looked.fresh),
            (1, 1, 1)
        );
        put("b.csv", "1\n2");
        let looked = watch.look(&find());
        assert_eq!(
            (looked.complete.len(), looked.arriving, looked.fresh),
            (1, 1, 0)
        );
        let looked = watch.look(&find());
        assert_eq!(
            (looked.complete.len(), looked.arriving, looked.fresh),
            (2, 0, 1)
        );
        let looked = watch.look(&find());
        assert_eq!(looked.fresh, 0, "nothing new");
        put("a.csv", "1\n2");
        watch.look(&find());
        assert_eq!(
            watch.look(&find()).fresh,
            1,
            "a changed file is fresh again"
        );
        std::fs::remove_file(day.path().join("a.csv")).unwrap();
        assert_eq!(watch.look(&find()).complete.len(), 1);
    }
}
