//! Sources: NIST/SEMATECH e-Handbook of Statistical Methods (6.1.6, 6.3.2.2) and NIST `StRD`, both from memory, to be
//! confirmed; the arithmetic of each example is checked by hand in the comment beside it.

use hangtime::science::statistics::{
    capability, deviation, individuals, mean, normal_below, pareto, share_interval, straight_line,
};

/// e-Handbook 6.3.2.2: ten flow rates; centre 50.81, moving range 1.8778, limits 55.8041 and 45.8159.
#[test]
fn individuals_chart_of_the_handbook() {
    let flow = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
    let limits = individuals(&flow).unwrap();
    // Sum 508.1; differences 2.0 2.3 1.4 3.5 3.4 1.4 0.2 1.2 1.5, sum 16.9.
    assert!((limits.center - 50.81).abs() < 1e-9);
    assert!((limits.range - 1.8778).abs() < 5e-5);
    assert!((limits.high - 55.8041).abs() < 5e-5, "{}", limits.high);
    assert!((limits.low - 45.8159).abs() < 5e-5, "{}", limits.low);
    assert!((limits.range_high - 3.267 * 16.9 / 9.0).abs() < 1e-9);
}

/// e-Handbook 6.1.6: limits 8 and 20, mean 16, s 2; Cp 1.0 and Cpk 0.6667.
#[test]
fn capability_of_the_handbook() {
    let found = capability(16.0, 2.0, 8.0, 20.0).unwrap();
    assert!((found.cp - 1.0).abs() < 1e-12);
    assert!((found.cpk - 0.6667).abs() < 5e-5);
    assert!(capability(16.0, 0.0, 8.0, 20.0).is_none());
}

/// `StRD` `NumAcc1`: 10000001, 10000003, 10000002; certified mean 10000002 and deviation 1, both exact.
#[test]
fn readings_far_from_zero_keep_their_digits() {
    let data = [10_000_001.0, 10_000_003.0, 10_000_002.0];
    assert!((mean(&data).unwrap() - 10_000_002.0).abs() < 1e-9);
    assert!((deviation(&data).unwrap() - 1.0).abs() < 1e-12);
}

/// `StRD` `NumAcc3`: 1000000.2, then 1000000.1 and 1000000.3 five hundred times each; mean 1000000.2, deviation 0.1.
#[test]
fn a_thousand_and_one_readings_far_from_zero() {
    let mut data = vec![1_000_000.2];
    for _ in 0..500 {
        data.extend([1_000_000.1, 1_000_000.3]);
    }
    assert!((mean(&data).unwrap() - 1_000_000.2).abs() < 1e-8);
    assert!((deviation(&data).unwrap() - 0.1).abs() < 1e-9);
}

/// Abramowitz and Stegun, table 26.1 (from memory, to be confirmed).
#[test]
fn the_normal_law_has_its_tabulated_values() {
    for (z, want) in [
        (0.0, 0.5),
        (1.0, 0.841_344_746_068_543),
        (1.96, 0.975_002_104_851_780),
        (3.0, 0.998_650_101_968_370),
        (-1.0, 0.158_655_253_931_457),
        (-5.0, 2.866_515_719e-7),
    ] {
        assert!(
            (normal_below(z) - want).abs() < 1e-12,
            "{z}: {}",
            normal_below(z)
        );
    }
    // The two branches meet where they change.
    let edge = 3.0 * std::f64::consts::SQRT_2;
    assert!((normal_below(edge - 1e-9) - normal_below(edge + 1e-9)).abs() < 1e-12);
}

/// By hand: counts 12, 3, 31, 7 make 53; 31/53, 43/53, 50/53, 1.
#[test]
fn pareto_runs_from_the_most_frequent_down() {
    let lines = pareto(&[12, 3, 31, 7]);
    assert_eq!(lines.iter().map(|l| l.at).collect::<Vec<_>>(), [2, 0, 3, 1]);
    assert!((lines[0].so_far - 31.0 / 53.0).abs() < 1e-12);
    assert!((lines[1].so_far - 43.0 / 53.0).abs() < 1e-12);
    assert!((lines[3].so_far - 1.0).abs() < 1e-12);
    assert!(pareto(&[0, 0]).is_empty());
}

/// By hand for 0 of 10: from 0 to z^2/(n + z^2) = 3.8415/13.8415 = 0.27753.
#[test]
fn wilson_interval_of_none_in_ten() {
    let (low, high) = share_interval(0.0, 10.0).unwrap();
    assert!(low.abs() < 1e-12);
    assert!((high - 0.277_53).abs() < 1e-5, "{high}");
    assert!(share_interval(11.0, 10.0).is_none());
}

/// `StRD` Norris, linear regression: slope 1.00211681802045, intercept -0.262323073774029, residual standard deviation
/// 0.884796396144373.
#[test]
fn a_straight_line_of_the_reference_data() {
    let data = [
        (0.2, 0.1),
        (337.4, 338.8),
        (118.2, 118.1),
        (884.6, 888.0),
        (10.1, 9.2),
        (226.5, 228.1),
        (666.3, 668.5),
        (996.3, 998.5),
        (448.6, 449.1),
        (777.0, 778.9),
        (558.2, 559.2),
        (0.4, 0.3),
        (0.6, 0.1),
        (775.5, 778.1),
        (666.9, 668.8),
        (338.0, 339.3),
        (447.5, 448.9),
        (11.6, 10.8),
        (556.0, 557.7),
        (228.1, 228.3),
        (995.8, 998.0),
        (887.6, 888.8),
        (120.2, 119.6),
        (0.3, 0.3),
        (0.3, 0.6),
        (556.8, 557.6),
        (339.1, 339.3),
        (887.2, 888.0),
        (999.0, 998.5),
        (779.0, 778.9),
        (11.1, 10.2),
        (118.3, 117.6),
        (229.2, 228.9),
        (669.1, 668.4),
        (448.9, 449.2),
        (0.5, 0.2),
    ];
    let line = straight_line(&data).unwrap();
    assert!((line.slope - 1.002_116_818_020_45).abs() < 1e-12);
    assert!((line.intercept + 0.262_323_073_774_029).abs() < 1e-10);
    assert!((line.scatter - 0.884_796_396_144_373).abs() < 1e-10);
    // A steep line of little scatter: the range is near the two-sided t of 34 (taken as that of 30) times s / b.
    let reach = line.reach(500.0, 0.0).unwrap();
    let (early, late) = reach.range.unwrap();
    assert!((reach.at - 499.205).abs() < 1e-3, "{}", reach.at);
    assert!(early < reach.at && reach.at < late);
    assert!((late - early) / 2.0 < 1.02 * 2.042 * 0.8848 / 1.0021);
    assert!((late - early) / 2.0 > 2.042 * 0.8848 / 1.0021);
}

/// Worked out by hand: 25, 40 and 55 at 0, 10 and 20; 100 is reached at 50. With a scatter of 5 / sqrt(12) = 1.44338 and
/// t = 12.706: g = (12.706 x 1.44338 / 1.5)^2 / 200 = 0.747419, range 28.601 to 308.129.
#[test]
fn a_line_of_three_readings_has_a_wide_range_or_none() {
    let line = straight_line(&[(0.0, 25.0), (10.0, 40.0), (20.0, 55.0)]).unwrap();
    let reach = line.reach(100.0, 5.0 / 12.0_f64.sqrt()).unwrap();
    assert!((reach.at - 50.0).abs() < 1e-9);
    let (early, late) = reach.range.unwrap();
    assert!(
        (early - 28.6010).abs() < 1e-3 && (late - 308.1287).abs() < 1e-3,
        "{early} {late}"
    );
    // Twice the scatter, and the rise cannot be told from none.
    assert_eq!(line.reach(100.0, 2.9).unwrap().range, None);
    // A line that falls comes to no mark; two readings are no line, nor are three of one moment.
    let falls = straight_line(&[(0.0, 25.0), (10.0, 24.0), (20.0, 20.0)]).unwrap();
    assert_eq!(falls.reach(100.0, 0.0), None);
    assert!(straight_line(&[(0.0, 25.0), (10.0, 40.0)]).is_none());
    assert!(straight_line(&[(1.0, 25.0), (1.0, 40.0), (1.0, 41.0)]).is_none());
}
