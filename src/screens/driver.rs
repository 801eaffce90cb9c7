//! The terminal session, its threads, and the ledger behind them.
//!
//! One thread reads the keyboard, one owns the ledger, one writes to the terminal, one waits for signals; the main loop takes
//! their messages from one channel and waits no longer than until the text on the screen would next change.
//!
//! *Invariants*: what was switched on at the terminal is switched off on exit, panic and signal; the newest query
//! replaces a waiting one of its kind; writes are done in their order and to their end, also when the program ends.
//!
//! *Not here*: what a message means (`update`), how it looks (`view`).

use super::errand::Errands;
use super::first::{Hands, Task, Told, Walk};
use super::keyboard::{Came, listen};
use super::keys::Key;
use super::model::{Model, Note, Shop};
use super::msg::{Effect, Msg};
use super::paint::{Behind, Pace, Paint};
use super::places::{Place, wakes};
use super::prompt::Names;
use super::store::{Store, planned};
use super::theme::{Form, Theme};
use super::update::{reload, update};
use super::view;
use crate::clock::Clock;
use crate::ledger::{Changes, Ledger};
use crate::units::System;
use anyhow::{Context, bail};
use crossterm::event::{DisableBracketedPaste, EnableBracketedPaste};
use ratatui::Terminal;
use ratatui::backend::CrosstermBackend;
use ratatui::layout::Rect;
use std::collections::VecDeque;
use std::io::{IsTerminal, Write as _, stdin, stdout};
use std::path::Path;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::{Duration, Instant};

/// So many characters in a row without a pause come from a scanner even without its Enter: two fingers
/// may fall together, three do not (ours, no source).
const HALF: usize = 3;

/// How often the ledger is asked whether another process wrote to it, where the file system gives no word of it: a board
/// that lags less than half a second feels live, and the question costs some microseconds.
const POLL: Duration = Duration::from_millis(250);

/// The same where the file system tells, as it may have nothing to tell.
const SELDOM: Duration = Duration::from_secs(1);

/// How long the main loop has to end cleanly after a signal. The terminal library can spin for ever on a terminal
/// that was closed, so somebody else has to end the process then.
const GRACE: Duration = Duration::from_millis(1_500);

/// How long a terminal that hangs has to take the sequences that give it back, when the program is ended by a signal.
const LAST_WORD: Duration = Duration::from_millis(300);

/// The terminal, behind the thread that writes to it.
type Screen = Terminal<CrosstermBackend<Paint>>;

/// The message that waits in the main loop's channel.
enum Input {
    Msg(Msg),
    From(Came),
    /// The terminal has taken all that was drawn.
    Drawn,
    StoreEnded,
}

/// What the screens open with.
#[derive(Debug)]
pub enum Opening<'a> {
    /// A ledger.
    Ledger(Box<Ledger>, Clock),
    /// The first start of a new shop.
    First(Box<Walk>, HandsOf<'a>),
}

/// What does the tasks of the first start.
pub struct HandsOf<'a>(pub Hands<'a>);

impl std::fmt::Debug for HandsOf<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("hands")
    }
}

/// What the screens start with.
#[derive(Debug)]
pub struct Start {
    /// This terminal.
    pub station: String,
    /// Initials of the person at the terminal.
    pub person: Option<String>,
    /// Units of the screens.
    pub system: System,
    /// Where they open.
    pub place: Place,
    /// The program's commands, for its command line.
    pub names: Names,
}

/// Runs the screens until the person leaves.
pub fn run(opening: Opening<'_>, start: Start) -> anyhow::Result<()> {
    let Start {
        station,
        mut person,
        system,
        place,
        names,
    } = start;
    if !stdout().is_terminal() || !stdin().is_terminal() {
        bail!(
            "the screens need a terminal on standard input and output; \"hangtime --help\" lists the commands that need none"
        );
    }
    let theme = theme()?;
    let (to_main, inbox) = channel();
    let (to_store, jobs) = channel();
    let panicked = Arc::new(Mutex::new(Vec::new()));
    let mut session = Session::begin(&panicked, to_main.clone())?;
    let listener = to_main.clone();
    listen(move |came| listener.send(Input::From(came)).is_ok())?;
    spawn_signals(to_main.clone())?;
    let mut first_piece = None;
    let (ledger, clock) = match opening {
        Opening::Ledger(ledger, clock) => (*ledger, clock),
        Opening::First(mut walk, hands) => {
            let found = lead(&mut walk, hands.0, theme, &mut session, &inbox)?;
            let Some(found) = found else {
                return Ok(());
            };
            // In the sample shop nobody is somebody yet.
            if !found.0.demo() && !walk.person.is_empty() {
                person = Some(walk.person.clone());
            }
            first_piece = Some(walk.serial).filter(|s| !s.is_empty());
            found
        }
    };
    let shop = facts_of(&ledger, &station, system, theme);
    let errands = Errands::new(ledger.path().to_path_buf(), station.clone(), system);
    let poll = listen_to_others(&ledger, to_store.clone())?;
    let leave = to_store.clone();
    let store = {
        let to_main = to_main.clone();
        thread::Builder::new()
            .name("ledger".to_owned())
            .spawn(move || keep_store(Store::new(ledger, clock, &station), &jobs, to_main, poll))?
    };
    let mut model = Model::new(shop, person, clock.now());
    model.place = place;
    model.command.names = names;
    if let Some(serial) = first_piece {
        model.note = Some(Note::Said(format!(
            "Enter opens {serial}: w logs its next work, c a coat, s a sanding"
        )));
        model.scan = serial;
        model.offered = true;
    }
    let outcome = Main {
        model,
        clock,
        inbox,
        answers: to_main,
        to_store,
        errands,
        burst: Burst::default(),
        waiting: VecDeque::new(),
        behind: session.behind.clone(),
        pace: Pace::new(),
        stale: true,
        resized: false,
    }
    .run(&mut session.terminal);
    // The store finishes what it was given, and only then the program ends. Whoever listens to others holds its channel, too,
    // so that it does not end by itself.
    let _ = leave.send(Job::Leave);
    let ended = store.join();
    drop(session);
    let told = panicked.lock().map(|p| p.join("; ")).unwrap_or_default();
    if ended.is_err() || !told.is_empty() {
        bail!("a part of the program stopped ({told}); what was saved before is in the ledger");
    }
    outcome
}

/// What stays the same while the program runs.
pub(super) fn facts_of(ledger: &Ledger, station: &str, system: System, theme: Theme) -> Shop {
    Shop {
        name: ledger.name().to_owned(),
        demo: ledger.demo(),
        calendar: ledger.calendar(),
        station: station.to_owned(),
        system,
        theme,
    }
}

// Leads through the first start; gives the ledger to go on with, or `None` when the person leaves.
fn lead(
    walk: &mut Walk,
    hands: Hands<'_>,
    theme: Theme,
    session: &mut Session,
    inbox: &Receiver<Input>,
) -> anyhow::Result<Option<(Ledger, Clock)>> {
    let Session { terminal, behind } = session;
    let mut next = None;
    let mut stale = true;
    loop {
        walk.busy = next.is_some();
        if stale && behind.none() {
            terminal.draw(|frame| {
                let area = frame.area();
                view::first(walk, theme, area, frame.buffer_mut());
            })?;
            stale = false;
        }
        if let Some(task) = next.take() {
            stale = true;
            if task == Task::Leave {
                return Ok(None);
            }
            match hands(&task) {
                Ok(Told::Ledger(ledger, clock)) => return Ok(Some((*ledger, clock))),
                Ok(Told::Offers(offers)) => next = walk.done(&task, offers),
                Err(why) => walk.refused(why),
            }
            continue;
        }
        let input = inbox.recv()?;
        stale |= !matches!(input, Input::Drawn);
        match input {
            Input::From(Came::Key(key)) => next = walk.press(key),
            Input::From(Came::Pasted(text)) => {
                // Letters only: what follows from them is for Enter, pressed by hand.
                for c in text.chars().filter(|c| !c.is_control()) {
                    next = walk.press(Key::Char(c)).or(next);
                }
            }
            Input::From(Came::TooMuch(count, _)) => walk.refused(format!(
                "{count} characters came at once, more than anybody types; they were not taken"
            )),
            Input::From(Came::Resize) => whole(terminal)?,
            Input::Msg(Msg::End) | Input::From(Came::End) => return Ok(None),
            Input::Msg(_) | Input::From(Came::Pause) | Input::StoreEnded | Input::Drawn => {}
        }
    }
}

// The next picture is drawn from nothing: after a resize it is not known what the terminal still shows.
fn whole(terminal: &mut Screen) -> anyhow::Result<()> {
    let size = terminal.size()?;
    Ok(terminal.resize(Rect::new(0, 0, size.width, size.height))?)
}

// NO_COLOR and the locale belong to this terminal, so they are read where the terminal is.
fn theme() -> anyhow::Result<Theme> {
    let set = |name: &str| std::env::var(name).ok().filter(|v| !v.is_empty());
    let locale = ["LC_ALL", "LC_CTYPE", "LANG"].into_iter().find_map(set);
    let shapes = locale.is_some_and(|l| {
        let l = l.to_ascii_lowercase();
        l.contains("utf-8") || l.contains("utf8")
    });
    let plain = set("NO_COLOR").is_some() || set("TERM").is_some_and(|t| t == "dumb");
    let form = match set("HANGTIME_FORM") {
        _ if plain => Form::Plain,
        None => Form::Dark,
        Some(word) => Form::from_word(&word).with_context(|| {
            let known: Vec<&str> = Form::ALL.iter().map(|(_, w)| *w).collect();
            format!(
                "HANGTIME_FORM \"{}\" is not a form of the screens; write one of {}",
                crate::shop::text::shown(&word),
                known.join(", ")
            )
        })?,
    };
    Ok(Theme { form, shapes })
}

/// The terminal while it is ours.
struct Session {
    terminal: Screen,
    behind: Behind,
}

impl Session {
    fn begin(panicked: &Arc<Mutex<Vec<String>>>, to_main: Sender<Input>) -> anyhow::Result<Self> {
        let taken = move || {
            let _ = to_main.send(Input::Drawn);
        };
        let (paint, behind) = Paint::start(terminal_out()?, taken)?;
        crossterm::terminal::enable_raw_mode().context("the terminal takes no raw keys")?;
        let begun = crossterm::execute!(
            stdout(),
            crossterm::terminal::EnterAlternateScreen,
            EnableBracketedPaste
        )
        .and_then(|()| Terminal::new(CrosstermBackend::new(paint)));
        let terminal = match begun {
            Ok(terminal) => terminal,
            Err(e) => {
                restore();
                return Err(e).context("the terminal cannot be drawn on");
            }
        };
        // Only a panic of this thread ends the drawing; another's text would ruin the screen and is kept for the end.
        let ours = thread::current().id();
        let before = std::panic::take_hook();
        let panicked = Arc::clone(panicked);
        let theirs = behind.clone();
        std::panic::set_hook(Box::new(move |info| {
            if thread::current().id() == ours {
                theirs.end();
                restore();
                before(info);
            } else if let Ok(mut list) = panicked.lock() {
                list.push(info.to_string());
            }
        }));
        Ok(Self { terminal, behind })
    }
}

impl Drop for Session {
    fn drop(&mut self) {
        // What is on its way would be written over the main screen.
        self.behind.end();
        restore();
    }
}

// The terminal by a handle of its own: the commands hold the lock of the standard output as long as they run, and the screens
// are one of them, so that no other thread could write through it.
#[cfg(unix)]
fn terminal_out() -> std::io::Result<std::fs::File> {
    use std::os::fd::AsFd as _;
    Ok(stdout().as_fd().try_clone_to_owned()?.into())
}

#[cfg(not(unix))]
fn terminal_out() -> std::io::Result<std::io::Stdout> {
    Ok(stdout())
}

fn restore() {
    // Lines and echo come back at once, also where the terminal takes no more bytes. Nothing can be done about a terminal
    // that is gone.
    let _ = crossterm::terminal::disable_raw_mode();
    let mut back = Vec::new();
    let _ = crossterm::queue!(
        back,
        DisableBracketedPaste,
        crossterm::terminal::LeaveAlternateScreen,
        crossterm::cursor::Show
    );
    let _ = terminal_out().and_then(|mut out| out.write_all(&back));
}

fn spawn_signals(to_main: Sender<Input>) -> anyhow::Result<()> {
    use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM};
    let mut signals = signal_hook::iterator::Signals::new([SIGHUP, SIGINT, SIGTERM])?;
    thread::Builder::new()
        .name("signals".to_owned())
        .spawn(move || {
            let Some(signal) = signals.forever().next() else {
                return;
            };
            let _ = to_main.send(Input::Msg(Msg::End));
            thread::sleep(GRACE);
            // A terminal that takes no bytes would keep us here for ever.
            thread::spawn(restore);
            thread::sleep(LAST_WORD);
            #[allow(
                clippy::exit,
                reason = "the main loop hangs on a terminal that is gone; every save is committed already"
            )]
            std::process::exit(128 + signal);
        })?;
    Ok(())
}

/// Characters without a pause between them, which may be a scanner's line.
#[derive(Default)]
struct Burst(Vec<char>);

impl Burst {
    // Takes a key and gives what is known by now: a scanner's line, or keys.
    fn take(&mut self, key: Key) -> Vec<Msg> {
        match key {
            Key::Char(c) => {
                self.0.push(c);
                Vec::new()
            }
            // One character and Enter may well be two fingers.
            Key::Enter | Key::Tab if self.0.len() > 1 => {
                vec![Msg::Burst(self.0.drain(..).collect())]
            }
            other => {
                let mut out = self.let_go();
                out.push(Msg::Key(other));
                out
            }
        }
    }

    // What was no scanner's line were keys after all, or half of one.
    fn let_go(&mut self) -> Vec<Msg> {
        if self.0.len() >= HALF {
            return vec![Msg::Half(self.0.drain(..).collect())];
        }
        self.0.drain(..).map(|c| Msg::Key(Key::Char(c))).collect()
    }
}

struct Main {
    model: Model,
    clock: Clock,
    inbox: Receiver<Input>,
    answers: Sender<Input>,
    errands: Errands,
    to_store: Sender<Job>,
    burst: Burst,
    waiting: VecDeque<Msg>,
    behind: Behind,
    pace: Pace,
    // Whether something happened since the last picture.
    stale: bool,
    // Whether the terminal changed its size since then.
    resized: bool,
}

impl Main {
    fn run(mut self, terminal: &mut Screen) -> anyhow::Result<()> {
        let size = terminal.size()?;
        self.waiting.push_back(Msg::Size(size.width, size.height));
        let first = reload(&mut self.model);
        self.act(first);
        loop {
            while let Some(msg) = self.waiting.pop_front() {
                let now = Msg::Now(self.clock.now());
                for msg in [now, msg] {
                    let effects = self.update(msg);
                    if !self.act(effects) {
                        return Ok(());
                    }
                }
            }
            if self.may_draw() && self.pace.wait(Clock::tick()).is_zero() {
                self.draw(terminal)?;
            }
            self.take_in(terminal)?;
        }
    }

    // Nearly always nothing new is worth telling: then the picture is as it was.
    fn update(&mut self, msg: Msg) -> Vec<Effect> {
        if !matches!(msg, Msg::Called(..)) {
            return update(&mut self.model, msg);
        }
        let before = (self.model.calls.clone(), self.model.note.clone());
        let effects = update(&mut self.model, msg);
        self.stale |= before != (self.model.calls.clone(), self.model.note.clone());
        effects
    }

    // A scanner's line is taken in whole before anything is drawn, and what is drawn is taken in before the next picture.
    fn may_draw(&self) -> bool {
        self.stale && self.burst.0.is_empty() && self.behind.none()
    }

    fn draw(&mut self, terminal: &mut Screen) -> anyhow::Result<()> {
        if std::mem::take(&mut self.resized) {
            whole(terminal)?;
        }
        let model = &self.model;
        let now = self.clock.now();
        terminal.draw(|frame| {
            let area = frame.area();
            view::view(model, now, area, frame.buffer_mut());
        })?;
        self.stale = false;
        self.pace.drew(Clock::tick());
        Ok(())
    }

    // Waits for one message or for the moment at which the screen changes by itself, and takes in what came with it.
    fn take_in(&mut self, terminal: &mut Screen) -> anyhow::Result<()> {
        let now = self.clock.now();
        let next = wakes(&self.model, now).since(now);
        let next = u64::try_from(next.0).unwrap_or(60_000);
        let next = Duration::from_millis(next).max(Duration::from_millis(10));
        let wait = if self.may_draw() {
            next.min(self.pace.wait(Clock::tick()))
        } else {
            next
        };
        match self.inbox.recv_timeout(wait) {
            Ok(input) => self.sort(input, terminal)?,
            Err(RecvTimeoutError::Timeout) => {
                self.waiting.push_back(Msg::Now(self.clock.now()));
                self.stale = true;
            }
            Err(RecvTimeoutError::Disconnected) => bail!("every other part of the program ended"),
        }
        while let Ok(input) = self.inbox.try_recv() {
            self.sort(input, terminal)?;
        }
        Ok(())
    }

    fn sort(&mut self, input: Input, terminal: &Screen) -> anyhow::Result<()> {
        self.stale |= !matches!(input, Input::Drawn | Input::Msg(Msg::Called(..)));
        match input {
            Input::Msg(msg) => self.waiting.push_back(msg),
            Input::StoreEnded => bail!("the ledger's part of the program ended"),
            Input::Drawn => {}
            Input::From(came) => self.came(came, terminal)?,
        }
        Ok(())
    }

    fn came(&mut self, came: Came, terminal: &Screen) -> anyhow::Result<()> {
        match came {
            Came::Key(key) => self.waiting.extend(self.burst.take(key)),
            Came::Pause => self.waiting.extend(self.burst.let_go()),
            Came::Pasted(text) => self.waiting.push_back(Msg::Pasted(text)),
            Came::TooMuch(count, flood) => {
                // The beginning of what was too much is no half of a tag.
                self.burst.0.clear();
                self.waiting.push_back(Msg::TooMuch(count, flood));
            }
            Came::Resize => {
                let size = terminal.size()?;
                self.resized = true;
                self.waiting.push_back(Msg::Size(size.width, size.height));
            }
            Came::End => self.waiting.push_back(Msg::End),
        }
        Ok(())
    }

    // Hands the effects on; `false` when the program is to end.
    fn act(&mut self, effects: Vec<Effect>) -> bool {
        for effect in effects {
            match effect {
                Effect::Quit => return false,
                Effect::Run {
                    ticket,
                    person,
                    at,
                    room,
                    errand,
                } => {
                    let to_main = self.answers.clone();
                    let tell = move |ran| {
                        let _ = to_main.send(Input::Msg(Msg::Ran(ticket, Box::new(ran))));
                    };
                    self.errands
                        .start(errand, person.as_deref(), at.as_deref(), room, tell);
                }
                Effect::StopRun => self.errands.stop(),
                // A terminal that takes no bell is none the worse.
                Effect::Bell => {
                    let _ = crossterm::execute!(stdout(), crossterm::style::Print('\u{7}'));
                }
                // A store that is gone has said so in the channel.
                other => {
                    let _ = self.to_store.send(Job::Do(other));
                }
            }
        }
        true
    }
}

/// A piece of work for the store.
enum Job {
    Do(Effect),
    /// Somebody saved something: perhaps another one.
    Look,
    /// The person has left: what was given before is done, and nothing more comes.
    Leave,
}

// Hears of others' saves as soon as they are made, where the system tells; gives how often the store looks by itself.
fn listen_to_others(ledger: &Ledger, to_store: Sender<Job>) -> anyhow::Result<Duration> {
    let Some(changes) = Changes::of(ledger.path()) else {
        return Ok(POLL);
    };
    thread::Builder::new()
        .name("others".to_owned())
        .spawn(move || changes.listen(|| to_store.send(Job::Look).is_ok()))?;
    Ok(SELDOM)
}

/// Says in the channel that the ledger's thread is at its end, however it came to it.
struct Farewell(Sender<Input>);

impl Drop for Farewell {
    fn drop(&mut self) {
        // On the way out of the program nobody listens any more.
        let _ = self.0.send(Input::StoreEnded);
    }
}

fn keep_store(mut store: Store, jobs: &Receiver<Job>, to_main: Sender<Input>, poll: Duration) {
    let farewell = Farewell(to_main);
    let say = |msg: Msg| {
        let _ = farewell.0.send(Input::Msg(msg));
    };
    say(store.fate());
    let mut version = store.version();
    let mut desk = Desk::default();
    let mut keeper = Keeper::new();
    let mut rested = Clock::tick();
    let mut planner = Planner::default();
    loop {
        let idle = match jobs.recv_timeout(poll) {
            Ok(job) => {
                desk.take(job);
                false
            }
            Err(RecvTimeoutError::Timeout) => true,
            Err(RecvTimeoutError::Disconnected) => {
                desk.take(Job::Leave);
                false
            }
        };
        loop {
            // What is asked for while something is answered may make what still waits needless.
            while let Ok(job) = jobs.try_recv() {
                desk.take(job);
            }
            let Some(effect) = desk.waiting.pop_front() else {
                break;
            };
            let Some(effect) = planner.take(effect, &store, &farewell.0) else {
                continue;
            };
            if let Some(msg) = store.answer(effect) {
                say(msg);
            }
        }
        if desk.leaves {
            // One that is half written is written to its end: the person is leaving, and nobody waits for a key.
            let _ = keeper.end();
            return;
        }
        // Where there is no pause, what comes round is done all the same.
        let due = idle || Clock::until(rested + SELDOM).is_zero();
        if due && let Some(msg) = store.renew() {
            say(msg);
        }
        if std::mem::take(&mut desk.heard) || due {
            let newest = store.version();
            if newest != version {
                version = newest;
                say(Msg::Changed);
            }
        }
        if due {
            rested = Clock::tick();
            if idle {
                store.rest();
            }
            if let Some(fault) = keeper.turn(&store) {
                say(Msg::Fault(fault));
            }
        }
    }
}

/// What was given to the ledger's thread and not taken up yet.
#[derive(Default)]
struct Desk {
    waiting: VecDeque<Effect>,
    /// Another process may have written.
    heard: bool,
    leaves: bool,
}

impl Desk {
    fn take(&mut self, job: Job) {
        match job {
            Job::Do(effect) => queue(&mut self.waiting, effect),
            Job::Look => self.heard = true,
            Job::Leave => self.leaves = true,
        }
    }
}

/// Makes the plans, on a thread and a connection of their own: one of a busy floor takes seconds, and no save waits for it. Of
/// the plans that are asked for meanwhile the newest is made.
#[derive(Default)]
struct Planner {
    asks: Option<Sender<Effect>>,
}

impl Planner {
    // Takes the effect that asks for a plan, and gives back any other.
    fn take(&mut self, effect: Effect, store: &Store, to_main: &Sender<Input>) -> Option<Effect> {
        if !matches!(effect, Effect::LoadPlan { .. }) {
            return Some(effect);
        }
        let asks = if let Some(asks) = self.asks.take() {
            asks
        } else {
            let (asks, asked) = channel();
            let (path, to_main) = (store.path(), to_main.clone());
            let thread = thread::Builder::new().name("plan".to_owned());
            let begun = thread.spawn(move || make_plans(&path, &asked, &to_main));
            // Where there is no thread to be had, the ledger's own makes it.
            if begun.is_err() {
                return Some(effect);
            }
            asks
        };
        match asks.send(effect) {
            Ok(()) => {
                self.asks = Some(asks);
                None
            }
            Err(back) => Some(back.0),
        }
    }
}

fn make_plans(path: &Path, asked: &Receiver<Effect>, to_main: &Sender<Input>) {
    while let Ok(mut newest) = asked.recv() {
        while let Ok(newer) = asked.try_recv() {
            newest = newer;
        }
        let Effect::LoadPlan {
            ticket,
            at,
            now,
            known,
        } = newest
        else {
            continue;
        };
        let msg = match Ledger::open(path) {
            Ok(ledger) => planned(&ledger, ticket, (at, now), known),
            Err(e) => Msg::Place(ticket, Err(e.to_string())),
        };
        let _ = to_main.send(Input::Msg(msg));
    }
}

/// Writes the backups that are due, on a thread and a connection of their own: no save waits for one.
struct Keeper {
    running: Option<thread::JoinHandle<Option<String>>>,
    next: Instant,
}

/// How often it is asked whether a backup is due, and how long a fault is left alone: a stick that is missing is said
/// once an hour and not each minute.
const ASK: Duration = Duration::from_mins(1);
const LEAVE: Duration = Duration::from_hours(1);

impl Keeper {
    fn new() -> Self {
        Self {
            running: None,
            next: Clock::tick(),
        }
    }

    // Looks after the backup between two saves; gives what went wrong.
    fn turn(&mut self, store: &Store) -> Option<String> {
        if self.running.as_ref().is_some_and(|r| !r.is_finished()) {
            return None;
        }
        let fault = self.end();
        if fault.is_some() {
            self.next = Clock::tick() + LEAVE;
        }
        if self.running.is_none() && Clock::until(self.next).is_zero() {
            self.next = Clock::tick() + ASK;
            if let Some((path, now)) = store.backup_due() {
                self.running = thread::Builder::new()
                    .name("backup".to_owned())
                    .spawn(move || {
                        let fault = Ledger::open(&path).and_then(|l| l.backup_if_due(now)).err();
                        fault.map(|e| format!("the backup that is due was not written: {e}"))
                    })
                    .ok();
            }
        }
        fault
    }

    fn end(&mut self) -> Option<String> {
        let ended = self.running.take()?.join();
        ended.unwrap_or_else(|_| Some("the backup that is due was not written".to_owned()))
    }
}

// The newest query replaces a waiting one of its kind; writes keep their order.
fn queue(waiting: &mut VecDeque<Effect>, effect: Effect) {
    let query = |e: &Effect| {
        matches!(
            e,
            Effect::LoadFloor { .. }
                | Effect::LoadCalls { .. }
                | Effect::LoadPlace { .. }
                | Effect::LoadPlan { .. }
                | Effect::OpenBook { .. }
                | Effect::LoadCard { .. }
                | Effect::Preview { .. }
                | Effect::Look { .. }
        )
    };
    if query(&effect) {
        let kind = std::mem::discriminant(&effect);
        waiting.retain(|e| std::mem::discriminant(e) != kind);
    }
    waiting.push_back(effect);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::screens::calls::Calls;
    use crate::units::Moment;

    #[test]
    fn the_newest_query_replaces_a_waiting_one_and_writes_keep_their_order() {
        let load = |ticket| Effect::LoadFloor {
            ticket,
            at: Moment(0),
        };
        let mut waiting = VecDeque::new();
        queue(&mut waiting, load(1));
        queue(&mut waiting, Effect::DropDraft);
        queue(&mut waiting, load(2));
        queue(&mut waiting, Effect::DropDraft);
        assert_eq!(waiting, [Effect::DropDraft, load(2), Effect::DropDraft]);
    }

    fn by_mk() -> (crate::ledger::Who, crate::ledger::Stamp) {
        let who = crate::ledger::Who {
            person: "MK".to_owned(),
            writer: "MK".to_owned(),
            station: "booth-1".to_owned(),
        };
        let stamp = crate::ledger::Stamp {
            written: Moment(1_773_050_400_000),
            clock: "demo",
            boot_ms: None,
        };
        (who, stamp)
    }

    fn demo(home: &std::path::Path) -> (Ledger, Clock) {
        let (who, stamp) = by_mk();
        let shop = crate::ledger::NewShop {
            name: "Two benches".to_owned(),
            zone: "America/New_York".to_owned(),
            day_start: 0,
            demo: true,
        };
        let ledger = Ledger::create(&home.join("shop.ledger"), &shop, &who, &stamp).unwrap();
        (ledger, Clock::starting_at(stamp.written))
    }

    #[test]
    fn a_due_backup_is_written_beside_the_screens_and_a_missing_folder_is_said_once() {
        use crate::ledger::BackupPlan;
        let home = tempfile::tempdir().unwrap();
        let folder = home.path().join("stick");
        std::fs::create_dir(&folder).unwrap();
        let (who, stamp) = by_mk();
        let (mut ledger, clock) = demo(home.path());
        let every = crate::units::Span::hours(24);
        let plan = BackupPlan::of(&ledger, every, folder.clone(), 3);
        ledger.plan_backups(Some(&plan), &who, &stamp).unwrap();
        let store = Store::new(ledger, clock, "booth-1");
        let backups = || {
            let names = std::fs::read_dir(&folder).unwrap();
            names
                .filter(|f| f.as_ref().unwrap().path().extension() == Some("backup".as_ref()))
                .count()
        };

        let mut keeper = Keeper::new();
        assert_eq!(keeper.turn(&store), None);
        assert_eq!(keeper.end(), None);
        assert_eq!(backups(), 1);
        // It was asked a moment ago, and now there is one that is young.
        assert_eq!(keeper.turn(&store), None);
        assert!(keeper.running.is_none());

        std::fs::remove_dir_all(&folder).unwrap();
        let mut keeper = Keeper::new();
        assert_eq!(keeper.turn(&store), None);
        let said = loop {
            if let Some(said) = keeper.turn(&store) {
                break said;
            }
            thread::yield_now();
        };
        assert!(
            said.contains("not written") && said.contains("plug in"),
            "{said}"
        );
        assert_eq!(keeper.turn(&store), None);
        assert!(keeper.running.is_none(), "it is left alone for a while");
    }

    #[test]
    fn a_plan_is_made_beside_the_ledgers_own_thread_and_the_newest_question_is_answered() {
        let home = tempfile::tempdir().unwrap();
        let (ledger, clock) = demo(home.path());
        let (at, head) = (clock.now(), ledger.head().unwrap().0);
        let store = Store::new(ledger, clock, "booth-1");
        let (to_main, inbox) = channel();
        let mut planner = Planner::default();
        let ask = |ticket, known| Effect::LoadPlan {
            ticket,
            at,
            now: true,
            known,
        };
        let drop_draft = planner.take(Effect::DropDraft, &store, &to_main);
        assert_eq!(drop_draft, Some(Effect::DropDraft));
        assert!(planner.asks.is_none());
        for ticket in 1..=5 {
            assert_eq!(planner.take(ask(ticket, None), &store, &to_main), None);
        }
        let answer = || match inbox.recv_timeout(Duration::from_mins(1)).unwrap() {
            Input::Msg(msg) => msg,
            _ => panic!("only answers come here"),
        };
        loop {
            let Msg::Place(ticket, Ok(_)) = answer() else {
                panic!("a plan was asked for");
            };
            if ticket == 5 {
                break;
            }
        }
        // Nothing was written since the plan that is known.
        assert_eq!(planner.take(ask(6, Some(head)), &store, &to_main), None);
        assert!(matches!(answer(), Msg::PlanStands(6)));
        // The thread ends when nobody asks any more.
        drop(planner);
        drop(to_main);
        assert!(inbox.recv_timeout(Duration::from_mins(1)).is_err());
    }

    // Plays keys without a pause between them, and says what they were taken for.
    fn taken(keys: &[Key]) -> Vec<String> {
        let mut burst = Burst::default();
        let mut out: Vec<Msg> = keys.iter().flat_map(|k| burst.take(*k)).collect();
        out.extend(burst.let_go());
        out.into_iter().map(told).collect()
    }

    fn told(msg: Msg) -> String {
        match msg {
            Msg::Burst(text) => text,
            Msg::Half(text) => format!("half {text}"),
            Msg::Key(key) => format!("{key:?}"),
            other => format!("{other:?}"),
        }
    }

    fn typed(text: &str) -> impl Iterator<Item = Key> {
        text.chars().map(|c| match c {
            '\r' => Key::Enter,
            '\t' => Key::Tab,
            '\u{1b}' => Key::Esc,
            c => Key::Char(c),
        })
    }

    #[test]
    fn characters_without_a_pause_that_end_with_enter_or_tab_are_a_scan_and_all_others_are_keys() {
        for (text, wanted) in [
            ("R12\r", &["R12"][..]),
            ("R12\t", &["R12"]),
            ("R3\rR3\r", &["R3", "R3"]),
            ("c\r", &["Char('c')", "Enter"]),
            ("R1\u{1b}", &["Char('R')", "Char('1')", "Esc"]),
            ("B-0", &["half B-0"]),
            ("B-", &["Char('B')", "Char('-')"]),
        ] {
            let keys: Vec<Key> = typed(text).collect();
            assert_eq!(taken(&keys), wanted, "{text:?}");
        }
    }

    // A main loop with nothing behind it, and what talks to it.
    fn alone() -> (Main, Screen, Sender<Input>) {
        let (answers, inbox) = channel();
        let (to_store, _) = channel();
        let (paint, behind) = Paint::start(std::io::sink(), || {}).unwrap();
        let area = ratatui::Viewport::Fixed(Rect::new(0, 0, 80, 24));
        let options = ratatui::TerminalOptions { viewport: area };
        let screen = Terminal::with_options(CrosstermBackend::new(paint), options).unwrap();
        let home = tempfile::tempdir().unwrap();
        let (ledger, clock) = demo(home.path());
        let shop = facts_of(
            &ledger,
            "booth-1",
            System::Metric,
            Theme {
                form: Form::Plain,
                shapes: false,
            },
        );
        let main = Main {
            errands: Errands::new(
                ledger.path().to_path_buf(),
                "booth-1".to_owned(),
                System::Metric,
            ),
            model: Model::new(shop, None, clock.now()),
            clock,
            inbox,
            answers: answers.clone(),
            to_store,
            burst: Burst::default(),
            waiting: VecDeque::new(),
            behind,
            pace: Pace::new(),
            stale: false,
            resized: false,
        };
        (main, screen, answers)
    }

    #[test]
    fn nothing_new_to_tell_draws_no_picture() {
        let (mut main, screen, _terminal) = alone();
        let ticket = main.model.floor_ticket;
        for (answer, drawn) in [
            (Ok(Box::new(Calls::NONE)), false),
            (Err("the ledger cannot be read".to_owned()), true),
        ] {
            main.sort(Input::Msg(Msg::Called(ticket, answer)), &screen)
                .unwrap();
            let msg = main.waiting.pop_front().unwrap();
            main.update(msg);
            assert_eq!(main.stale, drawn);
        }
        main.stale = false;
        main.sort(Input::Msg(Msg::Changed), &screen).unwrap();
        assert!(main.stale);
    }

    #[test]
    fn a_scan_whose_pieces_come_late_is_one_scan_as_long_as_the_keyboard_saw_no_pause() {
        let (mut main, mut screen, terminal) = alone();
        let mut came = Vec::new();
        for piece in ["N", "-0", "419\r"] {
            for key in typed(piece) {
                terminal.send(Input::From(Came::Key(key))).unwrap();
            }
            // Longer than the pause that ends a scan: the machine is busy with something else.
            thread::sleep(3 * super::super::run::BURST);
            main.take_in(&mut screen).unwrap();
            // It also looks at its clock in between.
            main.sort(Input::Msg(Msg::Changed), &screen).unwrap();
            came.extend(
                main.waiting
                    .drain(..)
                    .filter(|m| !matches!(m, Msg::Changed)),
            );
        }
        let came: Vec<String> = came.into_iter().map(told).collect();
        assert_eq!(came, ["N-0419"]);
        // The same with a pause that the keyboard saw is half of one, and keys.
        for came in [Came::Key(Key::Char('N')), Came::Pause]
            .into_iter()
            .chain(typed("-0419\r").map(Came::Key))
        {
            terminal.send(Input::From(came)).unwrap();
        }
        main.take_in(&mut screen).unwrap();
        let came: Vec<String> = main.waiting.drain(..).map(told).collect();
        assert_eq!(came, ["Char('N')", "-0419"]);
    }

    // Plays the terminal's side of a session whose drawing panics: the same test, started again inside a pseudo-terminal.
    #[cfg(unix)]
    #[test]
    fn a_panic_gives_the_terminal_back() {
        use portable_pty::{CommandBuilder, PtySize, native_pty_system};
        use std::io::Read as _;
        const INSIDE: &str = "HANGTIME_TEST_PANIC";
        if std::env::var_os(INSIDE).is_some() {
            let _session = Session::begin(&Arc::new(Mutex::new(Vec::new())), channel().0).unwrap();
            assert!(crossterm::terminal::is_raw_mode_enabled().unwrap());
            panic!("forced");
        }
        let size = PtySize {
            rows: 24,
            cols: 80,
            pixel_width: 0,
            pixel_height: 0,
        };
        let pair = native_pty_system().openpty(size).unwrap();
        let flags = || pair.master.get_termios().unwrap().local_flags.bits();
        let before = flags();
        let mut command = CommandBuilder::new(std::env::current_exe().unwrap());
        command.args([
            "--exact",
            "--nocapture",
            "--test-threads=1",
            "screens::driver::tests::a_panic_gives_the_terminal_back",
        ]);
        command.env(INSIDE, "1");
        command.env("TERM", "xterm-256color");
        let mut child = pair.slave.spawn_command(command).unwrap();
        let mut reader = pair.master.try_clone_reader().unwrap();
        let read = thread::spawn(move || {
            let mut all = Vec::new();
            let mut bytes = [0; 4096];
            while let Ok(n @ 1..) = reader.read(&mut bytes) {
                all.extend_from_slice(bytes.get(..n).unwrap_or_default());
            }
            all
        });
        assert!(!child.wait().unwrap().success());
        // Asked while the terminal is still there: it is gone with its last holder.
        assert_eq!(flags(), before, "the terminal takes lines and echoes again");
        drop(pair.slave);
        let all = String::from_utf8_lossy(&read.join().unwrap()).into_owned();
        let enters = all.find("\u{1b}[?1049h").unwrap();
        let leaves = all.find("\u{1b}[?1049l").unwrap();
        let told = all.find("forced").unwrap();
        assert!(enters < leaves, "the main screen is back");
        assert!(leaves < told, "what went wrong stands on the main screen");
        assert!(all.contains("\u{1b}[?25h"), "the cursor is back");
    }
}
