//! What comes from the terminal: keys, pasted texts, new sizes.
//!
//! *Invariants*: whether keys came without a pause is judged where they are read, by whether more lay there, and not by the
//! time at which a part of the program gets round to them: a scan stays one scan on a machine that is busy. Nothing that is
//! kept grows with what the terminal sends.
//!
//! *Not here*: which bytes are which key (`sequences`), how keys without a pause are taken (`run`), what is a scan (`driver`).

use super::keys::Key;
use super::msg::Flood;
use super::prompt;
use super::run::{Rest, Run};
use super::sequences::{Begun, Part, Sequences};
use crate::clock::Clock;
use std::time::{Duration, Instant};

/// ESC by itself is known by the pause after it. The rest of a key's sequence comes in one go, but for slow lines (ours,
/// no source).
const ALONE: Duration = Duration::from_millis(50);

/// A terminal that has begun to paste and sends nothing for so long has lost the end of it (ours, no source): whoever stands
/// there finds the keyboard dead until then, and what would come later would be taken for keys.
const LOST: Duration = Duration::from_secs(3);

/// What came.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Came {
    Key(Key),
    /// No key came for a while after those before it.
    Pause,
    Pasted(String),
    TooMuch(usize, Flood),
    Resize,
    /// The terminal is gone.
    End,
}

/// The keys and texts of the bytes that came.
#[derive(Debug, Default)]
struct Keyboard {
    sequences: Sequences,
    run: Run,
}

impl Keyboard {
    // How long nothing has to come until that means something.
    fn wait(&self) -> Option<Duration> {
        match self.sequences.begun() {
            Begun::Paste => Some(LOST),
            Begun::Sequence => Some(ALONE),
            Begun::Nothing => self.run.on().then(|| self.run.pause()),
        }
    }

    // Takes in what came.
    fn take(&mut self, bytes: &[u8]) -> Vec<Came> {
        let mut out = Vec::new();
        for byte in bytes {
            match self.sequences.take(*byte) {
                None => {}
                Some(Part::Key(key)) => out.extend(self.run.take(key).map(Came::Key)),
                Some(Part::Pasted(text, count)) => out.extend(self.pasted(text, count)),
            }
        }
        out
    }

    fn pasted(&mut self, text: String, count: usize) -> Vec<Came> {
        let mut out = Vec::new();
        // What was pressed before it comes before it.
        self.end_run(&mut out);
        out.push(if count > prompt::LONGEST {
            Came::TooMuch(count, Flood::Pasted)
        } else {
            Came::Pasted(text)
        });
        out
    }

    // Nothing came for as long as it was waited.
    fn pause(&mut self) -> Vec<Came> {
        let mut out = Vec::new();
        match self.sequences.pause() {
            Ok(key) => out.extend(key.and_then(|k| self.run.take(k)).map(Came::Key)),
            Err(count) => {
                self.end_run(&mut out);
                out.push(Came::TooMuch(count, Flood::Unended));
            }
        }
        self.end_run(&mut out);
        out
    }

    fn end_run(&mut self, out: &mut Vec<Came>) {
        if !self.run.on() {
            return;
        }
        match self.run.end() {
            Rest::Keys(keys) => {
                out.extend(keys.into_iter().map(Came::Key));
                out.push(Came::Pause);
            }
            Rest::Flood(count) => out.push(Came::TooMuch(count, Flood::Keys)),
        }
    }
}

/// Starts the thread that listens to the terminal and tells what comes, until nobody wants to know any more.
pub(super) fn listen(tell: impl Fn(Came) -> bool + Send + 'static) -> std::io::Result<()> {
    let mut terminal = Terminal::new()?;
    std::thread::Builder::new()
        .name("keyboard".to_owned())
        .spawn(move || {
            let mut keyboard = Keyboard::default();
            loop {
                let came = terminal.next(&mut keyboard).unwrap_or(vec![Came::End]);
                for one in came {
                    let last = one == Came::End;
                    if !tell(one) || last {
                        return;
                    }
                }
            }
        })?;
    Ok(())
}

/// The standard input, and the signal that tells of a new size. The terminal library reads bytes, too, but waits within for
/// the end of whatever has begun, keeps all of it until then, and does not tell what lay there together.
#[cfg(unix)]
struct Terminal {
    sizes: std::os::unix::net::UnixStream,
    bytes: Vec<u8>,
    // When bytes came last.
    last: Instant,
}

#[cfg(unix)]
impl Terminal {
    fn new() -> std::io::Result<Self> {
        let (sizes, signal) = std::os::unix::net::UnixStream::pair()?;
        sizes.set_nonblocking(true)?;
        signal_hook::low_level::pipe::register(signal_hook::consts::SIGWINCH, signal)?;
        Ok(Self {
            sizes,
            bytes: vec![0; 4_096],
            last: Clock::tick(),
        })
    }

    // Waits for what comes next.
    fn next(&mut self, keyboard: &mut Keyboard) -> std::io::Result<Vec<Came>> {
        use rustix::event::{PollFd, PollFlags, Timespec, poll};
        use rustix::io::retry_on_intr;
        use std::io::Read as _;
        let stdin = std::io::stdin();
        let ends = keyboard.wait().map(|wait| self.last + wait);
        let wait = ends.map(|at| Timespec::try_from(Clock::until(at)));
        let wait = wait.transpose().map_err(std::io::Error::other)?;
        let mut asked = [
            PollFd::new(&stdin, PollFlags::IN),
            PollFd::new(&self.sizes, PollFlags::IN),
        ];
        // A signal is no pause.
        retry_on_intr(|| poll(&mut asked, wait.as_ref()))?;
        let [keys, resized] = asked.map(|fd| !fd.revents().is_empty());
        let mut came = Vec::new();
        if resized {
            while self.sizes.read(&mut self.bytes).is_ok_and(|n| n > 0) {}
            came.push(Came::Resize);
        }
        if keys {
            let count = retry_on_intr(|| rustix::io::read(&stdin, &mut self.bytes[..]))?;
            self.last = Clock::tick();
            match self.bytes.get(..count) {
                Some(bytes) if count > 0 => came.extend(keyboard.take(bytes)),
                _ => came.push(Came::End),
            }
        } else if ends.is_some_and(|at| Clock::until(at).is_zero()) {
            came.extend(keyboard.pause());
        }
        Ok(came)
    }
}

/// The terminal library's keys, where there are no bytes to read.
#[cfg(not(unix))]
struct Terminal;

#[cfg(not(unix))]
impl Terminal {
    const fn new() -> std::io::Result<Self> {
        Ok(Self)
    }

    fn next(&mut self, keyboard: &mut Keyboard) -> std::io::Result<Vec<Came>> {
        use crossterm::event::{Event, poll, read};
        if let Some(wait) = keyboard.wait()
            && !poll(wait)?
        {
            return Ok(keyboard.pause());
        }
        Ok(match read()? {
            Event::Key(event) => {
                let key = key(event).and_then(|k| keyboard.run.take(k));
                key.map(Came::Key).into_iter().collect()
            }
            Event::Paste(text) => {
                let count = text.chars().count();
                keyboard.pasted(text, count)
            }
            Event::Resize(..) => vec![Came::Resize],
            _ => Vec::new(),
        })
    }
}

#[cfg(not(unix))]
fn key(event: crossterm::event::KeyEvent) -> Option<Key> {
    use crossterm::event::{KeyCode, KeyEventKind, KeyModifiers};
    if event.kind == KeyEventKind::Release {
        return None;
    }
    let control = event.modifiers.contains(KeyModifiers::CONTROL);
    Some(match event.code {
        KeyCode::Char('c') if control => Key::Interrupt,
        KeyCode::Char('j' | 'm') if control => Key::Enter,
        KeyCode::Char('i') if control => Key::Tab,
        KeyCode::Char('h') if control => Key::Backspace,
        KeyCode::Char(c) if !control && !event.modifiers.contains(KeyModifiers::ALT) => {
            Key::Char(c)
        }
        KeyCode::Enter => Key::Enter,
        KeyCode::Esc => Key::Esc,
        KeyCode::Tab => Key::Tab,
        KeyCode::BackTab => Key::BackTab,
        KeyCode::Up => Key::Up,
        KeyCode::Down => Key::Down,
        KeyCode::PageUp => Key::PageUp,
        KeyCode::PageDown => Key::PageDown,
        KeyCode::Home => Key::Home,
        KeyCode::End => Key::End,
        KeyCode::Backspace => Key::Backspace,
        KeyCode::F(n) => Key::F(n),
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::super::run::BURST;
    use super::*;

    fn keys(text: &str) -> Vec<Came> {
        text.chars()
            .map(|c| Came::Key(if c == '\r' { Key::Enter } else { Key::Char(c) }))
            .collect()
    }

    #[test]
    fn keys_are_told_as_they_come_and_the_pause_after_them_once() {
        let mut keyboard = Keyboard::default();
        assert_eq!(keyboard.wait(), None);
        // In whatever pieces.
        let mut came = keyboard.take(b"R1");
        assert_eq!(keyboard.wait(), Some(BURST));
        came.extend(keyboard.take(b"2\r"));
        assert_eq!(came, keys("R12\r"));
        assert_eq!(keyboard.pause(), [Came::Pause]);
        assert_eq!(keyboard.wait(), None);
        assert_eq!(keyboard.pause(), []);
        // A second line waits for the pause and comes before it.
        assert_eq!(keyboard.take(b"R12\rR3\r"), keys("R12\r"));
        assert_eq!(keyboard.pause(), [keys("R3\r"), vec![Came::Pause]].concat());
        assert_eq!(keyboard.take(b"\x1b"), []);
        assert_eq!(keyboard.wait(), Some(ALONE));
        assert_eq!(keyboard.pause(), [Came::Key(Key::Esc), Came::Pause]);
    }

    #[test]
    fn a_paste_follows_what_was_pressed_before_it_and_one_that_is_too_long_is_counted() {
        let mut keyboard = Keyboard::default();
        let came = keyboard.take(b"c\r\x1b[200~R3\ru\x1b[201~");
        let pasted = Came::Pasted("R3\ru".to_owned());
        assert_eq!(came, [keys("c\r"), vec![Came::Pause, pasted]].concat());
        let long = "W".repeat(prompt::LONGEST + 1);
        let came = keyboard.take(format!("\u{1b}[200~{long}\u{1b}[201~").as_bytes());
        assert_eq!(came, [Came::TooMuch(prompt::LONGEST + 1, Flood::Pasted)]);
        let came = keyboard.take("u\r".repeat(10_000).as_bytes());
        assert_eq!(came, keys("u"));
        assert_eq!(keyboard.pause(), [Came::TooMuch(20_000, Flood::Keys)]);
    }

    #[test]
    fn a_paste_whose_end_does_not_come_is_given_up_and_the_keys_after_it_are_keys() {
        let mut keyboard = Keyboard::default();
        assert_eq!(keyboard.take(b"c\x1b[200~u\r"), keys("c"));
        assert_eq!(keyboard.wait(), Some(LOST));
        let given_up = Came::TooMuch(2, Flood::Unended);
        assert_eq!(keyboard.pause(), [Came::Pause, given_up]);
        assert_eq!(keyboard.wait(), None);
        assert_eq!(keyboard.take(b"q"), keys("q"));
    }
}
