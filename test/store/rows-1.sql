INSERT INTO archive (key, value) VALUES ('created_at', '2030-01-01T00:00:00.000Z'), ('state', 'closed');
INSERT INTO campaign (id, name, display, note, created_at, invented)
VALUES (1, 'Fixture', 'Panel F', '', '2030-01-01T00:00:00.000Z', 1);
INSERT INTO sweep (id, campaign_id, plan, state, reason, origin, created_at, rig_identity, total, max_attempts, ladder)
VALUES (1, 1, '{"setting":"Fast","refreshHz":60,"levels":[0,255],"repeats":1,"maxAttempts":3,"seed":1,"preS":0.05,"postS":0.25,"spacingS":0.35,"ladderSettleS":0.5,"ladderS":0.1,"sampleRateHz":50000,"rangeV":5,"trigger":"level","transfer":"int16","patch":{"sizePct":10,"surround":0},"flashLimitLifted":false}',
  'finished', '', 'rig', '2030-01-01T00:00:00.000Z', 'invented rig', 2, 3, NULL);
INSERT INTO capture (id, sweep_id, level_from, level_to, repeat, attempt, position, round, verdict, taken_at,
  sample_count, sample_rate_hz, trigger_index, source)
VALUES (1, 1, 0, 255, 1, 1, 0, 0, 'good', '2030-01-01T00:01:00.000Z', 4, 1000, 1, 'invented rig');
INSERT INTO overview (capture_id, block, extremes) VALUES (1, 512, x'fcff0300');
INSERT INTO recipe (id, hash, parameters, created_at)
VALUES (1, '2080d6b875ebd0fd', '{"condition":{"kind":"none"},"correctDetector":false,"darkCode":102,"detectorS":null,"duration":{"kind":"percent","percent":10},"endBand":{"kind":"percent","percent":3},"errorSpanS":null,"follows":"","inWindow":{"of":"settling","tolerancePct":0},"levels":{"afterShare":0.2,"beforeShare":0.6,"kind":"windows","statistic":"mean"},"name":"Fixture","note":"","ordinate":"luminance","overshootLimitPct":5,"startBand":{"kind":"percent","percent":3}}', '2030-01-01T00:00:00.000Z');
INSERT INTO analysis (id, recipe_hash, algorithm) VALUES (1, '2080d6b875ebd0fd', '1');
INSERT INTO result (id, analysis_id, sweep_id, capture_id, level_from, level_to, flag_count, arrival_s)
VALUES (1, 1, 1, 1, 0, 255, 1, 0.004);
INSERT INTO result_detail (result_id, onset_s, before_window_start_s, before_window_end_s, u_arrival_s)
VALUES (1, 0.05, 0, 0.03, 0.0001);
INSERT INTO measure (id, name) VALUES (1, 'snr');
INSERT INTO phrase (id, words) VALUES (1, 'No noise is visible in the plateaus.');
INSERT INTO result_reason (result_id, measure_id, phrase_id) VALUES (1, 1, 1);
INSERT INTO result_flag (result_id, origin, number, flag, evidence, value, bound, unit, first_sample, last_sample)
VALUES (1, 0, 0, 'hum', 'Invented.', 3, 2, '%', 1, 2);
INSERT INTO review (id, capture_id, decision, reason, reviewer, marks, at, undone)
VALUES (1, 1, 'exclude', 'Invented.', 'A', NULL, '2030-01-02T00:00:00.000Z', 0);
INSERT INTO standing (capture_id, review_id, decision, override_id) VALUES (1, 1, 'exclude', 0);
INSERT INTO event (id, at, sweep_id, level, text) VALUES (1, '2030-01-01T00:00:00.000Z', 1, 'info', 'Invented.');
INSERT INTO trace (capture_id, format, sample_rate_hz, scale_v, offset_v, range_v, crc32, samples)
VALUES (1, 'int16', 1000, 0.5, 0.25, 5, 0x63fe902e, x'010002000300fcff');
