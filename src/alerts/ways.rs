//! The ways by which somebody is told who looks at no screen of ours: a notice on the desktop, and a command of the shop's
//! own. Both are courtesies; the screen and the bell are the alarm.
//!
//! *Invariants*: nothing here holds up its caller for longer than it is told to, whatever the other side does. A notice
//! service that took a call and never answered is left alone from then on. The command is run without a shell, and what it
//! reads is one line of JSON.
//!
//! *Not here*: who is told, and keeping it (`commands::watch`).

use std::io::Write;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{
    Receiver, RecvTimeoutError, SyncSender, TrySendError, channel, sync_channel,
};
use std::thread;
use std::time::Duration;

/// How long a notice service has to answer (ours, no source: a daemon that lives answers within some tens of ms).
pub const DESKTOP_TAKES: Duration = Duration::from_secs(3);

/// How long a command of the shop's own may run: a text message over a slow network takes some seconds (ours, no source).
pub const COMMAND_TAKES: Duration = Duration::from_secs(20);

/// How often a running command is asked whether it has ended.
const LOOK: Duration = Duration::from_millis(20);

/// How many notices may wait for the service; more are not queued but said as not told.
const QUEUE: usize = 8;

/// A notice on a desktop.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Notice {
    /// Its first line.
    pub title: String,
    /// What it says.
    pub text: String,
}

type Answer = Result<(), String>;

/// The desktop's notices, sent from a thread of their own.
#[derive(Debug)]
pub struct Desktop {
    to: SyncSender<Notice>,
    answers: Receiver<Answer>,
    stuck: bool,
}

impl Desktop {
    /// Begins with the service of this desktop.
    ///
    /// # Errors
    /// The system gives no thread.
    pub fn begin() -> std::io::Result<Self> {
        Self::with(|notice| {
            let said = |e: notify_rust::error::Error| e.to_string();
            // A rack may be called what a service takes for markup: it is shown as it is written.
            let marks = notify_rust::get_capabilities().map_err(said)?;
            let body = if marks.iter().any(|m| m == "body-markup") {
                plain(&notice.text)
            } else {
                notice.text.clone()
            };
            notify_rust::Notification::new()
                .appname("hangtime")
                .summary(&notice.title)
                .body(&body)
                .show()
                .map(|_| ())
                .map_err(said)
        })
    }

    // `send` may never come back: then its thread is left to the end of the process.
    fn with(send: impl Fn(&Notice) -> Answer + Send + 'static) -> std::io::Result<Self> {
        let (to, queue) = sync_channel::<Notice>(QUEUE);
        let (tell, answers) = channel();
        thread::Builder::new()
            .name("notices".to_owned())
            .spawn(move || {
                while let Ok(notice) = queue.recv() {
                    if tell.send(send(&notice)).is_err() {
                        return;
                    }
                }
            })?;
        Ok(Self {
            to,
            answers,
            stuck: false,
        })
    }

    /// Whether a notice was taken and never answered; nothing more is sent then.
    pub const fn stuck(&self) -> bool {
        self.stuck
    }

    /// Sends a notice and waits for the answer, for a bounded time.
    ///
    /// # Errors
    /// Why it was not shown, as far as that is known.
    pub fn tell(&mut self, notice: Notice, takes: Duration) -> Answer {
        if self.stuck {
            return Err(
                "the desktop's notice service did not answer before and is left alone".to_owned(),
            );
        }
        match self.to.try_send(notice) {
            Ok(()) => {}
            Err(TrySendError::Full(_)) => return Err("too many notices wait".to_owned()),
            Err(TrySendError::Disconnected(_)) => {
                self.stuck = true;
                return Err("the part that sends notices ended".to_owned());
            }
        }
        match self.answers.recv_timeout(takes) {
            Ok(answer) => answer,
            Err(RecvTimeoutError::Timeout) => {
                self.stuck = true;
                Err(format!(
                    "the desktop's notice service did not answer within {} s and is left alone from now on",
                    takes.as_secs_f32()
                ))
            }
            Err(RecvTimeoutError::Disconnected) => {
                self.stuck = true;
                Err("the part that sends notices ended".to_owned())
            }
        }
    }
}

// Text for a service that reads markup in a notice's body.
fn plain(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
}

/// Runs a command of the shop's own with one line of JSON on its standard input; what it prints goes nowhere.
///
/// # Errors
/// It could not be started, ended with another code than 0, or did not end in time and was ended.
pub fn run(program: &Path, json: &str, takes: Duration) -> Answer {
    let mut child = Command::new(program)
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .map_err(|e| format!("{} cannot be started: {e}", program.display()))?;
    // A command that reads nothing must not hold up who writes: the pipe is filled from a thread of its own.
    if let Some(mut input) = child.stdin.take() {
        let line = format!("{json}\n");
        let writer = thread::Builder::new()
            .name("command".to_owned())
            .spawn(move || {
                // It may end without reading; its exit code tells.
                let _ = input.write_all(line.as_bytes());
            });
        if let Err(e) = writer {
            end(&mut child);
            return Err(format!("no thread for {}: {e}", program.display()));
        }
    }
    let mut left = takes;
    loop {
        match child.try_wait() {
            Ok(Some(status)) if status.success() => return Ok(()),
            Ok(Some(status)) => {
                return Err(format!("{} ended with {status}", program.display()));
            }
            Ok(None) if left.is_zero() => {
                end(&mut child);
                return Err(format!(
                    "{} did not end within {} s and was ended",
                    program.display(),
                    takes.as_secs_f32()
                ));
            }
            Ok(None) => {
                thread::sleep(LOOK.min(left));
                left = left.saturating_sub(LOOK);
            }
            Err(e) => {
                end(&mut child);
                return Err(format!("{}: {e}", program.display()));
            }
        }
    }
}

fn end(child: &mut Child) {
    // One that ended by itself meanwhile is none the worse.
    let _ = child.kill();
    let _ = child.wait();
}

#[cfg(test)]
mod tests {
    use super::*;

    const SOON: Duration = Duration::from_millis(200);

    fn notice(text: &str) -> Notice {
        Notice {
            title: "hangtime".to_owned(),
            text: text.to_owned(),
        }
    }

    #[test]
    fn a_service_that_never_answers_is_waited_for_once_and_then_left_alone() {
        let (never, hold) = channel::<()>();
        let mut desktop = Desktop::with(move |_| {
            let _ = hold.recv();
            Ok(())
        })
        .unwrap();
        let first = desktop.tell(notice("one"), SOON).unwrap_err();
        assert!(first.contains("did not answer within 0.2 s"), "{first}");
        assert!(desktop.stuck());
        // The second is refused at once: no answer is waited for, however long it might take.
        let second = desktop
            .tell(notice("two"), Duration::from_hours(1))
            .unwrap_err();
        assert!(second.contains("left alone"), "{second}");
        drop(never);
    }

    #[test]
    fn an_answer_is_passed_on_and_an_error_stops_nothing() {
        let mut desktop = Desktop::with(|n| match n.text.as_str() {
            "bad" => Err("no daemon".to_owned()),
            _ => Ok(()),
        })
        .unwrap();
        let long = Duration::from_mins(1);
        assert_eq!(
            desktop.tell(notice("bad"), long),
            Err("no daemon".to_owned())
        );
        assert_eq!(desktop.tell(notice("good"), long), Ok(()));
        assert!(!desktop.stuck());
    }

    #[cfg(unix)]
    fn script(text: &str) -> (tempfile::TempDir, std::path::PathBuf) {
        use std::os::unix::fs::PermissionsExt as _;
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("tell");
        std::fs::write(&file, format!("#!/bin/sh\n{text}\n")).unwrap();
        std::fs::set_permissions(&file, std::fs::Permissions::from_mode(0o755)).unwrap();
        (folder, file)
    }

    #[cfg(unix)]
    #[test]
    fn a_command_reads_the_line_and_its_end_is_told() {
        let (folder, file) = script("cat > \"$(dirname \"$0\")/got\"");
        run(&file, r#"{"id":"a"}"#, COMMAND_TAKES).unwrap();
        let got = std::fs::read_to_string(folder.path().join("got")).unwrap();
        assert_eq!(got, "{\"id\":\"a\"}\n");
        let (_folder, file) = script("exit 3");
        let said = run(&file, "{}", COMMAND_TAKES).unwrap_err();
        assert!(said.contains("exit status: 3"), "{said}");
        let said = run(Path::new("/nowhere/tell"), "{}", COMMAND_TAKES).unwrap_err();
        assert!(said.contains("cannot be started"), "{said}");
    }

    #[cfg(unix)]
    #[test]
    fn a_command_that_reads_nothing_and_does_not_end_is_ended() {
        let (_folder, file) = script("exec sleep 600");
        // More than a pipe holds: whoever writes it must not hang.
        let long = "x".repeat(1_000_000);
        let said = run(&file, &long, SOON).unwrap_err();
        assert!(said.contains("did not end within 0.2 s"), "{said}");
    }
}
