//! Climate readings as CSV with a header: `time,temperature` and optionally `humidity`. Times are RFC 3339, or shop
//! time as `2026-03-10 15:40`; a bare temperature is in degrees Celsius, a bare humidity in percent.

use super::table::line_of;
use crate::ledger::RowFault;
use crate::shop::calendar::Calendar;
use crate::shop::climate::Sample;
use crate::units::{Amount, Humidity, Moment, Temperature};

/// Reads all rows; every refused one is named.
pub fn read(bytes: &[u8], calendar: &Calendar) -> Result<Vec<Sample>, Vec<RowFault>> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let mut reader = csv::ReaderBuilder::new()
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(bytes);
    let header: Vec<String> = match reader.headers() {
        Ok(h) => h.iter().map(str::to_lowercase).collect(),
        Err(e) => {
            return Err(vec![RowFault {
                line: 1,
                why: format!("the header cannot be read ({e})"),
            }]);
        }
    };
    let column = |name: &str| header.iter().position(|h| h == name);
    let (Some(time), Some(temperature)) = (column("time"), column("temperature")) else {
        let why =
            "the header needs the columns time and temperature, and may have humidity".to_owned();
        return Err(vec![RowFault { line: 1, why }]);
    };
    let humidity = column("humidity");
    let mut samples = Vec::new();
    let mut refused = Vec::new();
    for record in reader.records() {
        let (line, result) = match record {
            Err(e) => (
                e.position().map_or(0, |p| line_of(bytes, p)),
                Err("the row is not UTF-8 CSV".to_owned()),
            ),
            Ok(r) => {
                let line = r.position().map_or(0, |p| line_of(bytes, p));
                let get = |i: usize| r.get(i).unwrap_or("");
                (
                    line,
                    sample(get(time), get(temperature), humidity.map(get), calendar),
                )
            }
        };
        match result {
            Ok(sample) => samples.push(sample),
            Err(why) => refused.push(RowFault { line, why }),
        }
    }
    if refused.is_empty() {
        Ok(samples)
    } else {
        Err(refused)
    }
}

fn sample(
    time: &str,
    temperature: &str,
    humidity: Option<&str>,
    calendar: &Calendar,
) -> Result<Sample, String> {
    Ok(Sample {
        // A row's time stands for itself: words such as "today" mean nothing in a file.
        at: if time.starts_with(|c: char| c.is_ascii_digit()) && time.contains('-') {
            calendar.read(time, Moment(0)).map_err(|e| e.to_string())?
        } else {
            return Err(format!(
                "time \"{}\" is not understood; write 2026-03-10 15:40 or RFC 3339",
                crate::shop::text::shown(time)
            ));
        },
        temperature: Temperature::read(temperature, Some("C")).map_err(|e| e.to_string())?,
        humidity: humidity
            .filter(|h| !h.is_empty())
            .map(|h| Humidity::read(h, Some("%")))
            .transpose()
            .map_err(|e| e.to_string())?,
    })
}
