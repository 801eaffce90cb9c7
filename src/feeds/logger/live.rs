//! Readings that sensors send to a broker on this host (MQTT 3.1.1, without TLS, over the loopback interface only).
//!
//! The library's runtime lives on a thread of its own here and tells what comes on a channel. What a message means and which
//! of the readings are kept is decided without it, from the message and the moment at which it came.
//!
//! *Invariants*: of a room's readings one is kept for each interval that the room is declared with; a message that the broker had
//! kept for later is of an unknown moment and counts only with a time of its own; what a sensor sends is never changed.
//!
//! *Not here*: the clock, taking readings into the record.

use crate::shop::climate::{Sample, holds_for};
use crate::shop::logger_file::{LiveShape, Logger};
use crate::shop::text::shown;
use crate::shop::words::Word;
use crate::units::{Amount, Humidity, Moment, Span, Temperature};
use chrono::DateTime;
use rumqttc::{Client, Event, MqttOptions, Packet, QoS, SubscribeReasonCode};
use serde_json::Value;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::time::Duration;

/// The address of the broker: this host only. Nothing on the way is encrypted, and nobody proves who they are.
pub const HOST: &str = "127.0.0.1";

/// How far a sensor's own clock may be ahead of ours: its reading waits until that moment has come.
const AHEAD: Span = Span::minutes(1);

/// News of the broker.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum News {
    /// It answers.
    Connected,
    /// It does not, and why.
    Lost(String),
    /// A message.
    Message(Message),
}

/// A message.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Message {
    /// Its topic.
    pub topic: String,
    /// What it says.
    pub bytes: Vec<u8>,
    /// Whether the broker had kept it for whoever comes.
    pub kept: bool,
}

/// Begins to listen to some topics. The channel ends when nobody can listen any more; whoever drops it ends the listening.
pub fn listen(port: u16, topics: Vec<String>, name: &str) -> Receiver<News> {
    // Room for what comes while a save waits for its turn.
    let (tell, told) = sync_channel(10_000);
    let name = name.to_owned();
    std::thread::spawn(move || run(port, &topics, &name, &tell));
    told
}

fn run(port: u16, topics: &[String], name: &str, tell: &SyncSender<News>) {
    let mut options = MqttOptions::new(name, HOST, port);
    // What was sent while nobody listened would come late and be taken for new: a clean session has none of it.
    options.set_clean_session(true);
    options.set_keep_alive(Duration::from_secs(15));
    let (client, mut connection) = Client::new(options, topics.len() + 16);
    let mut lost = 0_u32;
    for event in connection.iter() {
        let news = match event {
            Ok(Event::Incoming(Packet::ConnAck(_))) => {
                lost = 0;
                for topic in topics {
                    if client.try_subscribe(topic, QoS::AtLeastOnce).is_err() {
                        return;
                    }
                }
                News::Connected
            }
            Ok(Event::Incoming(Packet::SubAck(answer)))
                if answer
                    .return_codes
                    .iter()
                    .any(|c| matches!(c, SubscribeReasonCode::Failure)) =>
            {
                News::Lost("the broker refuses a topic".to_owned())
            }
            Ok(Event::Incoming(Packet::Publish(p))) => News::Message(Message {
                topic: p.topic,
                bytes: p.payload.to_vec(),
                kept: p.retain,
            }),
            Ok(_) => continue,
            Err(why) => {
                lost = lost.saturating_add(1);
                News::Lost(why.to_string())
            }
        };
        if tell.send(news).is_err() {
            return;
        }
        if lost > 0 {
            // Sooner at first: a broker that is started anew is there in seconds.
            std::thread::sleep(Duration::from_secs(u64::from(lost.min(10))));
        }
    }
}

/// What a message brought.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Heard {
    /// A reading to be kept.
    Reading {
        /// Place of the logger in the list.
        logger: usize,
        /// The reading.
        sample: Sample,
    },
    /// Something to say.
    Word(String),
}

// What is known of one logger while it is listened to.
#[derive(Debug)]
struct Line {
    logger: Logger,
    live: LiveShape,
    interval: Span,
    taken: Option<Moment>,
    heard: Moment,
    humidity: Option<(Moment, Humidity)>,
    silent: bool,
    complained: Option<String>,
}

/// The loggers that are listened to.
#[derive(Debug)]
pub struct Ear {
    lines: Vec<Line>,
}

// One message, read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Part {
    Air(Temperature, Option<Humidity>, Option<Moment>),
    Damp(Humidity),
    Nothing,
}

impl Ear {
    /// Listens from `now` on to these loggers, each with the interval of its room and the newest reading of it.
    pub fn new(loggers: Vec<(Logger, Span, Option<Moment>)>, now: Moment) -> Self {
        let lines = loggers.into_iter().filter_map(|(logger, interval, taken)| {
            let live = logger.live.clone()?;
            Some(Line {
                logger,
                live,
                interval,
                taken,
                heard: now,
                humidity: None,
                silent: false,
                complained: None,
            })
        });
        Self {
            lines: lines.collect(),
        }
    }

    /// The topics.
    pub fn topics(&self) -> Vec<String> {
        let mut all: Vec<String> = self
            .lines
            .iter()
            .flat_map(|l| [Some(&l.live.topic), l.live.humidity_topic.as_ref()])
            .flatten()
            .cloned()
            .collect();
        all.sort();
        all.dedup();
        all
    }

    /// The logger of a reading, and the name under which its readings stand in the record.
    pub fn of(&self, at: usize) -> Option<(&Logger, String)> {
        let line = self.lines.get(at)?;
        Some((
            &line.logger,
            format!("broker, {}, {}", line.logger.label(), line.live.topic),
        ))
    }

    /// What a message says that came at `now`.
    pub fn hear(&mut self, message: &Message, now: Moment) -> Vec<Heard> {
        let mut out = Vec::new();
        for (at, line) in self.lines.iter_mut().enumerate() {
            let ours = line.live.topic == message.topic
                || line.live.humidity_topic.as_ref() == Some(&message.topic);
            if ours {
                line.hear(at, message, now, &mut out);
            }
        }
        out
    }

    /// Rooms that were not heard for longer than a reading of them stands, each said once.
    pub fn silent(&mut self, now: Moment, say: &dyn Fn(Moment) -> String) -> Vec<String> {
        let mut out = Vec::new();
        for line in &mut self.lines {
            if !line.silent && now.since(line.heard) > holds_for(line.interval) {
                line.silent = true;
                out.push(format!(
                    "{}: silent since {} (logger {}); its air is unknown from there on",
                    shown(&line.logger.room),
                    say(line.heard),
                    line.logger.code
                ));
            }
        }
        out
    }
}

impl Line {
    fn hear(&mut self, at: usize, message: &Message, now: Moment, out: &mut Vec<Heard>) {
        let room = shown(&self.logger.room);
        let read = read(&self.logger, &self.live, message).and_then(|part| match part {
            Part::Air(_, _, Some(at)) if at.since(now) > AHEAD => {
                Err("its time lies ahead of the clock here; look at the sensor's".to_owned())
            }
            part => Ok(part),
        });
        let part = match read {
            Ok(part) => part,
            Err(why) => {
                // One and the same fault is said once until the sensor speaks well again.
                if self.complained.as_ref() != Some(&why) {
                    out.push(Heard::Word(format!(
                        "{room}: a message was left out: {why}"
                    )));
                    self.complained = Some(why);
                }
                return;
            }
        };
        let dated = matches!(part, Part::Air(_, _, Some(_)));
        if message.kept && !dated {
            out.push(Heard::Word(format!(
                "{room}: a message that the broker had kept was left out: nobody knows of when it is"
            )));
            return;
        }
        self.complained = None;
        if self.silent {
            self.silent = false;
            out.push(Heard::Word(format!("{room}: heard again")));
        }
        self.heard = now;
        let sample = match part {
            Part::Nothing => return,
            Part::Damp(h) => {
                self.humidity = Some((now, h));
                return;
            }
            Part::Air(temperature, humidity, when) => Sample {
                at: when.unwrap_or(now),
                temperature,
                // By itself a humidity stands beside the temperatures of one interval.
                humidity: humidity.or_else(|| {
                    self.humidity
                        .filter(|(since, _)| now.since(*since) <= self.interval)
                        .map(|(_, h)| h)
                }),
            },
        };
        // A sensor that is a little early must not make every other reading fall out.
        let least = self.interval.0 / 10 * 9;
        let near = |taken: Moment| sample.at.since(taken).0.abs() < least.max(1);
        if self.taken.is_some_and(near) {
            return;
        }
        self.taken = Some(self.taken.map_or(sample.at, |t| t.max(sample.at)));
        out.push(Heard::Reading { logger: at, sample });
    }
}

fn read(logger: &Logger, live: &LiveShape, message: &Message) -> Result<Part, String> {
    let text = std::str::from_utf8(&message.bytes)
        .map_err(|_| "it is not UTF-8 text".to_owned())?
        .trim();
    let nothing = |t: &str| t.is_empty() || logger.missing.iter().any(|m| m == t);
    let temperature = |t: &str| {
        Temperature::read(t, Some(logger.temperature_unit.word())).map_err(|e| e.to_string())
    };
    let humidity = |t: &str| {
        Humidity::read(t, logger.humidity_unit.map(Word::word)).map_err(|e| e.to_string())
    };
    let Some(fields) = &live.fields else {
        return match nothing(text) {
            true => Ok(Part::Nothing),
            false if message.topic == live.topic => Ok(Part::Air(temperature(text)?, None, None)),
            false => humidity(text).map(Part::Damp),
        };
    };
    let object = serde_json::from_str::<Value>(text).ok();
    let object = object
        .filter(Value::is_object)
        .ok_or("it is not an object of fields")?;
    let field = |name: &str| -> Result<Option<String>, String> {
        let mut value = &object;
        for part in name.split('.') {
            match value.get(part) {
                Some(inner) => value = inner,
                None => return Ok(None),
            }
        }
        match value {
            Value::Null => Ok(None),
            Value::Number(n) => Ok(Some(n.to_string())),
            Value::String(t) => Ok(Some(t.clone())),
            _ => Err(format!("field {name} is neither a number nor a text")),
        }
        .map(|t| t.filter(|t| !nothing(t)))
    };
    let Some(warm) = field(&fields.temperature)? else {
        return Ok(Part::Nothing);
    };
    let damp = match &fields.humidity {
        Some(name) => field(name)?.as_deref().map(humidity).transpose()?,
        None => None,
    };
    let when = match &fields.time {
        Some(name) => {
            let text = field(name)?.ok_or_else(|| format!("field {name} is missing"))?;
            let read = moment(&text);
            Some(read.ok_or_else(|| format!("time \"{}\" is not understood", shown(&text)))?)
        }
        None => None,
    };
    Ok(Part::Air(temperature(&warm)?, damp, when))
}

// RFC 3339, or seconds or milliseconds since 1970. No moment of the record reads as both: a second of the year 2199 as
// milliseconds would lie in March 1970.
fn moment(text: &str) -> Option<Moment> {
    const SECONDS: std::ops::Range<i64> = 0..10_000_000_000;
    let at = match text.parse::<i64>() {
        Ok(n) if SECONDS.contains(&n) => Moment(n.checked_mul(1_000)?),
        Ok(n) => Moment(n),
        Err(_) => Moment(DateTime::parse_from_rfc3339(text).ok()?.timestamp_millis()),
    };
    crate::shop::calendar::Calendar::bears(at).then_some(at)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shop::logger_file;

    const HEAD: &str = "[logger]\ncode = \"C-1\"\nrevision = \"1\"\nroom = \"cure room\"\ntemperature_unit = \"C\"\nhumidity_unit = \"%\"\n\n[live]\n";

    fn ear(live: &str) -> Ear {
        let logger = logger_file::read("c.toml", &format!("{HEAD}{live}")).unwrap();
        Ear::new(vec![(logger, Span::minutes(15), None)], Moment(0))
    }

    fn hear(ear: &mut Ear, minute: i64, topic: &str, text: &str) -> Vec<String> {
        let message = Message {
            topic: topic.to_owned(),
            bytes: text.as_bytes().to_vec(),
            kept: text.ends_with('\t'),
        };
        ear.hear(&message, Moment(minute * 60_000))
            .into_iter()
            .map(|h| match h {
                Heard::Word(text) => text,
                Heard::Reading { sample: s, .. } => format!(
                    "{} {} {:?}",
                    s.at.0 / 60_000,
                    s.temperature.0,
                    s.humidity.map(|h| h.0)
                ),
            })
            .collect()
    }

    #[test]
    fn one_reading_is_kept_for_each_interval_of_the_room() {
        let mut ear = ear("topic = \"cure/t\"\nhumidity_topic = \"cure/rh\"\n");
        assert_eq!(ear.topics(), ["cure/rh", "cure/t"]);
        assert_eq!(hear(&mut ear, 0, "cure/t", "21.4"), ["0 21400 None"]);
        assert!(hear(&mut ear, 1, "cure/rh", "45").is_empty());
        let kept: Vec<String> = (2..=40)
            .flat_map(|m| hear(&mut ear, m, "cure/t", "21.5"))
            .collect();
        // A little early is early enough; and a humidity that is an interval old no longer stands beside it.
        assert_eq!(kept, ["14 21500 Some(4500)", "28 21500 None"]);
        assert!(hear(&mut ear, 60, "other/t", "21.5").is_empty());
    }

    #[test]
    fn fields_are_read_with_their_time_and_what_does_not_read_is_said_once() {
        let mut ear =
            ear("topic = \"cure\"\ntemperature = \"air.t\"\nhumidity = \"rh\"\ntime = \"at\"\n");
        let good = r#"{"air":{"t":21.4},"rh":"45.1","at":600}"#;
        assert_eq!(hear(&mut ear, 11, "cure", good), ["10 21400 Some(4510)"]);
        assert_eq!(
            hear(
                &mut ear,
                30,
                "cure",
                r#"{"air":{"t":21.4},"at":"1970-01-01T00:29:00Z"}"#
            ),
            ["29 21400 None"]
        );
        for (text, wanted) in [
            ("21.4", "it is not an object of fields"),
            (
                r#"{"air":{"t":214},"at":60}"#,
                "temperature 214 is outside -60 C to 150 C",
            ),
            (
                r#"{"air":{"t":[1]},"at":60}"#,
                "field air.t is neither a number nor a text",
            ),
            (r#"{"air":{"t":21.4}}"#, "field at is missing"),
            (
                r#"{"air":{"t":21.4},"at":"noon"}"#,
                "time \"noon\" is not understood",
            ),
            (
                r#"{"air":{"t":21.4},"at":7200}"#,
                "its time lies ahead of the clock here",
            ),
        ] {
            let said = hear(&mut ear, 60, "cure", text);
            assert!(said.len() == 1 && said[0].contains(wanted), "{said:?}");
            assert!(hear(&mut ear, 61, "cure", text).is_empty());
        }
        // Nothing was read there: no fault.
        assert!(hear(&mut ear, 62, "cure", r#"{"air":{"t":null},"at":60}"#).is_empty());
    }

    #[test]
    fn a_message_that_was_kept_counts_only_with_a_time_of_its_own() {
        let mut plain = ear("topic = \"cure/t\"\n");
        let said = hear(&mut plain, 0, "cure/t", "21.4\t");
        assert!(said[0].contains("nobody knows of when it is"), "{said:?}");
        let mut dated = ear("topic = \"cure\"\ntemperature = \"t\"\ntime = \"at\"\n");
        assert_eq!(
            hear(&mut dated, 9, "cure", "{\"t\":21,\"at\":60}\t"),
            ["1 21000 None"]
        );
    }

    #[test]
    fn a_room_that_is_not_heard_is_said_once_and_again_when_it_speaks() {
        let mut ear = ear("topic = \"cure/t\"\n");
        let say = |m: Moment| (m.0 / 60_000).to_string();
        hear(&mut ear, 5, "cure/t", "21.4");
        let at = |m: i64| Moment(m * 60_000);
        assert!(ear.silent(at(35), &say).is_empty());
        let said = ear.silent(at(36), &say);
        assert_eq!(
            said,
            ["cure room: silent since 5 (logger C-1); its air is unknown from there on"]
        );
        assert!(ear.silent(at(60), &say).is_empty());
        assert_eq!(
            hear(&mut ear, 61, "cure/t", "21.4"),
            ["cure room: heard again", "61 21400 None"]
        );
    }
}
