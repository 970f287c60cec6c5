//! A disk in memory that can be stopped, filled, made to fail, and that loses power.
//!
//! It keeps apart what was written and what was made durable, as strictly as a system may: a
//! synced file has its bytes but not its name, a name is durable only after its folder was
//! synced, the two ends of a rename are separate entries, and bytes that were not synced may be
//! there in part, as zeros, or not at all.

use doughtrace::archive::{Hold, Kind, Medium, OpenFile};
use std::collections::BTreeMap;
use std::io::{Cursor, Error, ErrorKind, Read, Result, Write};
use std::sync::{Arc, Mutex};

/// A reproducible row of numbers (SplitMix64).
#[derive(Clone)]
pub struct Dice(pub u64);

impl Dice {
    pub fn roll(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    pub fn below(&mut self, limit: usize) -> usize {
        (self.roll() % (limit.max(1) as u64)) as usize
    }
}

/// What the loss of power leaves of what was not synced.
#[derive(Clone, Copy, Debug)]
pub enum Loss {
    Everything,
    Nothing,
    Some(u64),
}

#[derive(Clone, Default)]
struct Node {
    folder: bool,
    bytes: Vec<u8>,
    durable_bytes: Vec<u8>,
    names: BTreeMap<String, u64>,
    durable_names: BTreeMap<String, u64>,
}

#[derive(Default)]
struct State {
    nodes: BTreeMap<u64, Node>,
    locked: bool,
    calls: u64,
    stop_at: Option<u64>,
    fail_at: Option<u64>,
    stopped: bool,
    read_only: bool,
    room: Option<usize>,
    dice: Option<Dice>,
}

/// The disk; clones are the same disk.
#[derive(Clone)]
pub struct Sim(Arc<Mutex<State>>);

/// What the present call has to do.
enum Turn {
    Go,
    /// Fail; whether the effect takes place all the same (in part, for a write).
    Fail(bool),
}

fn gone() -> Error {
    Error::other("the writer was stopped")
}

impl State {
    fn turn(&mut self) -> Result<Turn> {
        if self.stopped {
            return Err(gone());
        }
        if self.read_only {
            return Err(ErrorKind::ReadOnlyFilesystem.into());
        }
        self.calls += 1;
        let stops = self.stop_at == Some(self.calls);
        self.stopped |= stops;
        if stops || self.fail_at == Some(self.calls) {
            let effect = self.dice.as_mut().is_some_and(|d| d.below(2) == 1);
            return Ok(Turn::Fail(effect));
        }
        Ok(Turn::Go)
    }

    fn find(&self, path: &str) -> Option<u64> {
        let mut at = 0;
        for part in path.split('/').filter(|p| !p.is_empty()) {
            at = *self.nodes.get(&at)?.names.get(part)?;
        }
        self.nodes.contains_key(&at).then_some(at)
    }

    fn get(&self, path: &str) -> Result<u64> {
        self.find(path).ok_or_else(|| ErrorKind::NotFound.into())
    }

    fn parent<'p>(&self, path: &'p str) -> Result<(u64, &'p str)> {
        let (folder, name) = path.rsplit_once('/').unwrap_or(("", path));
        Ok((self.get(folder)?, name))
    }

    fn add(&mut self, path: &str, folder: bool) -> Result<u64> {
        let (parent, name) = self.parent(path)?;
        let id = self.nodes.keys().max().unwrap() + 1;
        let node = Node {
            folder,
            ..Node::default()
        };
        self.nodes.insert(id, node);
        let names = &mut self.nodes.get_mut(&parent).unwrap().names;
        names.insert(name.to_owned(), id);
        Ok(id)
    }
}

impl Sim {
    pub fn new() -> Sim {
        let mut state = State::default();
        state.nodes.insert(
            0,
            Node {
                folder: true,
                ..Node::default()
            },
        );
        Sim(Arc::new(Mutex::new(state)))
    }

    fn with<T>(&self, act: impl FnOnce(&mut State) -> T) -> T {
        act(&mut self.0.lock().unwrap())
    }

    /// Runs one call: does it, or fails it with or without its effect.
    fn call<T>(&self, act: impl FnOnce(&mut State) -> Result<T>) -> Result<T> {
        self.with(|s| match s.turn()? {
            Turn::Go => act(s),
            Turn::Fail(effect) => {
                if effect {
                    let _ = act(s);
                }
                Err(gone())
            }
        })
    }

    /// Stops the writer at the `call`th call from now.
    pub fn stop_after(&self, call: u64, seed: u64) {
        self.with(|s| {
            s.stop_at = Some(s.calls + call);
            s.dice = Some(Dice(seed));
        });
    }

    /// Makes the `call`th call from now fail; the writer goes on.
    pub fn fail_after(&self, call: u64, seed: u64) {
        self.with(|s| {
            s.fail_at = Some(s.calls + call);
            s.dice = Some(Dice(seed));
        });
    }

    /// Leaves room for so many more bytes.
    pub fn leave_room(&self, bytes: Option<usize>) {
        self.with(|s| s.room = bytes);
    }

    /// Lets nothing be written any more.
    pub fn make_read_only(&self) {
        self.with(|s| s.read_only = true);
    }

    pub fn calls(&self) -> u64 {
        self.with(|s| s.calls)
    }

    /// Lets another process go on where the stopped one left: the power stayed on.
    pub fn go_on(&self) {
        self.with(|s| {
            s.stopped = false;
            s.stop_at = None;
            s.locked = false;
        });
    }

    /// Returns the disk as it is after the power went off and on again.
    pub fn lose_power(&self, loss: Loss) -> Sim {
        let mut dice = Dice(match loss {
            Loss::Some(seed) => seed,
            _ => 0,
        });
        let mut after = State::default();
        self.with(|s| {
            for (id, node) in &s.nodes {
                let mut node = node.clone();
                match loss {
                    Loss::Everything => {
                        node.bytes = node.durable_bytes.clone();
                        node.names = node.durable_names.clone();
                    }
                    Loss::Nothing => {}
                    Loss::Some(_) => {
                        node.bytes = what_is_left(&node, &mut dice);
                        node.names = names_left(&node, &mut dice);
                    }
                }
                node.durable_bytes = node.bytes.clone();
                node.durable_names = node.names.clone();
                after.nodes.insert(*id, node);
            }
        });
        Sim(Arc::new(Mutex::new(after)))
    }

    /// Returns every file with its bytes.
    pub fn files(&self) -> BTreeMap<String, Vec<u8>> {
        let mut found = BTreeMap::new();
        let mut folders = vec![String::new()];
        while let Some(folder) = folders.pop() {
            for name in self.list(&folder).unwrap() {
                let path = format!("{folder}/{name}");
                let path = path.trim_start_matches('/').to_owned();
                match self.kind(&path).unwrap() {
                    Some(Kind::Folder) => folders.push(path),
                    _ => {
                        found.insert(path.clone(), self.bytes(&path));
                    }
                }
            }
        }
        found
    }

    pub fn bytes(&self, path: &str) -> Vec<u8> {
        self.with(|s| s.nodes[&s.get(path).unwrap()].bytes.clone())
    }

    /// Puts bytes where they should not have been put.
    pub fn tamper(&self, path: &str, bytes: Vec<u8>) {
        self.with(|s| {
            let id = s.find(path).unwrap_or_else(|| s.add(path, false).unwrap());
            let node = s.nodes.get_mut(&id).unwrap();
            node.durable_bytes = bytes.clone();
            node.bytes = bytes;
        });
    }
}

fn what_is_left(node: &Node, dice: &mut Dice) -> Vec<u8> {
    let (now, durable) = (&node.bytes, &node.durable_bytes);
    if now == durable {
        return now.clone();
    }
    let Some(added) = now.strip_prefix(durable.as_slice()) else {
        return if dice.below(2) == 0 { now } else { durable }.clone();
    };
    let kept = dice.below(added.len() + 1);
    let zeros = dice.below(added.len() - kept + 1);
    let mut left = durable.clone();
    match dice.below(4) {
        0 => {}
        1 => left.extend(added),
        2 => left.extend(&added[..kept]),
        _ => {
            left.extend(&added[..kept]);
            left.extend(vec![0; zeros]);
        }
    }
    left
}

fn names_left(node: &Node, dice: &mut Dice) -> BTreeMap<String, u64> {
    let mut left = node.durable_names.clone();
    let all: std::collections::BTreeSet<_> =
        node.names.keys().chain(node.durable_names.keys()).collect();
    for name in all {
        if dice.below(2) == 0 {
            continue;
        }
        match node.names.get(name) {
            Some(id) => left.insert(name.clone(), *id),
            None => left.remove(name),
        };
    }
    left
}

struct SimFile {
    sim: Sim,
    id: u64,
}

impl Write for SimFile {
    fn write(&mut self, bytes: &[u8]) -> Result<usize> {
        self.sim.with(|s| {
            let turn = s.turn()?;
            let mut take = bytes.len();
            if matches!(turn, Turn::Fail(_)) {
                take = s.dice.as_mut().map_or(0, |d| d.below(bytes.len() + 1));
            }
            let full = s.room.is_some_and(|room| room < take);
            take = take.min(s.room.unwrap_or(take));
            s.room = s.room.map(|room| room - take);
            let node = s.nodes.get_mut(&self.id).unwrap();
            node.bytes.extend(&bytes[..take]);
            match turn {
                Turn::Fail(_) => Err(gone()),
                Turn::Go if full => Err(ErrorKind::StorageFull.into()),
                Turn::Go => Ok(take),
            }
        })
    }

    fn flush(&mut self) -> Result<()> {
        Ok(())
    }
}

impl OpenFile for SimFile {
    fn sync(&mut self) -> Result<()> {
        let id = self.id;
        self.sim.call(|s| {
            let node = s.nodes.get_mut(&id).unwrap();
            node.durable_bytes = node.bytes.clone();
            Ok(())
        })
    }
}

struct SimHold(Sim);

impl Hold for SimHold {}

impl Drop for SimHold {
    fn drop(&mut self) {
        self.0.with(|s| s.locked = false);
    }
}

impl Sim {
    fn handle(&self, id: u64) -> Box<dyn OpenFile> {
        Box::new(SimFile {
            sim: self.clone(),
            id,
        })
    }

    fn alive(&self) -> Result<()> {
        self.with(|s| if s.stopped { Err(gone()) } else { Ok(()) })
    }
}

impl Medium for Sim {
    fn place(&self) -> String {
        "memory".to_owned()
    }

    fn kind(&self, path: &str) -> Result<Option<Kind>> {
        self.alive()?;
        Ok(self.with(|s| {
            let node = &s.nodes[&s.find(path)?];
            Some(if node.folder {
                Kind::Folder
            } else {
                Kind::File(node.bytes.len() as u64)
            })
        }))
    }

    fn list(&self, folder: &str) -> Result<Vec<String>> {
        self.alive()?;
        self.with(|s| {
            let names = &s.nodes[&s.get(folder)?].names;
            let known = names.iter().filter(|(_, id)| s.nodes.contains_key(id));
            Ok(known.map(|(name, _)| name.clone()).collect())
        })
    }

    fn open(&self, path: &str) -> Result<Box<dyn Read + Send>> {
        self.alive()?;
        let bytes = self.with(|s| Ok::<_, Error>(s.nodes[&s.get(path)?].bytes.clone()))?;
        Ok(Box::new(Cursor::new(bytes)))
    }

    fn make_folder(&self, path: &str) -> Result<bool> {
        self.call(|s| {
            if s.find(path).is_some() {
                return Ok(false);
            }
            s.add(path, true).map(|_| true)
        })
    }

    fn create(&self, path: &str) -> Result<Box<dyn OpenFile>> {
        let id = self.call(|s| match s.find(path) {
            Some(id) => {
                s.nodes.get_mut(&id).unwrap().bytes.clear();
                Ok(id)
            }
            None => s.add(path, false),
        })?;
        Ok(self.handle(id))
    }

    fn append(&self, path: &str) -> Result<Box<dyn OpenFile>> {
        let id = self.call(|s| s.get(path))?;
        Ok(self.handle(id))
    }

    fn cut(&self, path: &str, length: u64) -> Result<Box<dyn OpenFile>> {
        let id = self.call(|s| {
            let id = s.get(path)?;
            s.nodes
                .get_mut(&id)
                .unwrap()
                .bytes
                .truncate(length as usize);
            Ok(id)
        })?;
        Ok(self.handle(id))
    }

    fn sync_folder(&self, path: &str) -> Result<()> {
        self.call(|s| {
            let id = s.get(path)?;
            let node = s.nodes.get_mut(&id).unwrap();
            node.durable_names = node.names.clone();
            Ok(())
        })
    }

    fn rename(&self, from: &str, to: &str) -> Result<()> {
        self.call(|s| {
            let id = s.get(from)?;
            let (old, old_name) = s.parent(from)?;
            let (new, new_name) = s.parent(to)?;
            s.nodes.get_mut(&old).unwrap().names.remove(old_name);
            let names = &mut s.nodes.get_mut(&new).unwrap().names;
            names.insert(new_name.to_owned(), id);
            Ok(())
        })
    }

    fn remove(&self, path: &str) -> Result<()> {
        self.call(|s| {
            s.get(path)?;
            let (folder, name) = s.parent(path)?;
            s.nodes.get_mut(&folder).unwrap().names.remove(name);
            Ok(())
        })
    }

    fn lock(&self, path: &str) -> Result<Option<Box<dyn Hold>>> {
        let sim = self.clone();
        self.call(|s| {
            if s.find(path).is_none() {
                s.add(path, false)?;
            }
            if s.locked {
                return Ok(None);
            }
            s.locked = true;
            Ok(Some(()))
        })
        .map(|taken| taken.map(|()| Box::new(SimHold(sim)) as Box<dyn Hold>))
    }
}
