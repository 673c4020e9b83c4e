/** Archives as earlier versions of the program wrote them: their frozen schema, filled by SQL of its own. */
import { createHash } from 'node:crypto'
import Database from 'better-sqlite3'
import { crc32 } from 'node:zlib'
import { APPLICATION_ID } from '../../src-main/store/migrate.ts'
import { MIGRATIONS } from '../../src-main/store/migrations/index.ts'
import { seededRandom } from '../../src-shared/domain/seeded-random.ts'

const PLAN = JSON.stringify({
  setting: 'Fast',
  refreshHz: 143.9,
  levels: [0, 128, 255],
  repeats: 5,
  maxAttempts: 3,
  seed: 1,
  preS: 0.05,
  postS: 0.25,
  spacingS: 0.35,
  ladderSettleS: 0.5,
  ladderS: 0.1,
  sampleRateHz: 50_000,
  rangeV: 5,
  trigger: 'level',
  transfer: 'int16',
  patch: { sizePct: 10, surround: 0 },
  flashLimitLifted: false,
})

/** Sweeps of these kinds take turns: measured, simulated by its identity, imported. */
const KINDS = [
  { campaign: 1, origin: 'rig', identity: 'Example Instruments D1, serial 7, firmware 2' },
  { campaign: 2, origin: 'rig', identity: 'Slewlight Simulated digitizer, serial 1, firmware 1' },
  { campaign: 3, origin: 'import', identity: 'Imported recordings' },
]
const PER_SWEEP = 1000

/** An archive of a schema version with so many captures, each with trace, result, uncertainties, a reason and a flag. */
export function writeOlder(path: string, version: number, captures: number): void {
  const next = seededRandom(version)
  const db = new Database(path)
  db.pragma('page_size = 1024')
  db.pragma('journal_mode = WAL')
  db.pragma('synchronous = OFF')
  db.pragma('foreign_keys = OFF')
  for (const migration of MIGRATIONS) if (migration.version <= version) db.exec(migration.sql)
  db.pragma(`user_version = ${version}`)
  db.pragma(`application_id = ${APPLICATION_ID}`)
  const statements = new Map<string, Database.Statement>()
  const row = (table: string, values: Readonly<Record<string, string | number | Buffer | null>>): void => {
    const columns = Object.keys(values)
    const text = `INSERT INTO ${table} (${columns.join(', ')}) VALUES (${columns.map(() => '?').join(', ')})`
    const statement = statements.get(text) ?? db.prepare(text)
    statements.set(text, statement)
    statement.run(...Object.values(values))
  }
  db.transaction(() => {
    row('archive', { key: 'state', value: 'closed' })
    for (let id = 1; id <= 3; id++) {
      const old = version < 5 ? { invented: id === 2 ? 1 : 0 } : {}
      row('campaign', { id, name: `Invented ${id}`, display: 'Panel', note: 'As written.', created_at: 'then', ...old })
    }
    row('recipe', { id: 1, hash: '2080d6b875ebd0fd', parameters: '{"name":"Fixture"}', created_at: 'then' })
    row('analysis', { id: 1, recipe_hash: '2080d6b875ebd0fd', algorithm: '2' })
    row('measure', { id: 1, name: 'snr' })
    row('phrase', { id: 1, words: 'No noise is visible in the plateaus.' })
    for (let id = 1; id <= Math.ceil(captures / PER_SWEEP); id++) {
      const kind = KINDS[(id - 1) % KINDS.length] ?? KINDS[0]!
      const origins: Readonly<Record<string, string>> = {
        rig: id % 3 === 2 ? 'simulated' : 'measured',
        import: 'imported',
      }
      const now = version < 5 ? {} : { setting: 'Fast', refresh_hz: 143.9 }
      row('sweep', {
        id,
        campaign_id: kind.campaign,
        plan: PLAN,
        state: 'finished',
        reason: '',
        origin: version < 5 ? kind.origin : (origins[kind.origin] ?? ''),
        created_at: 'then',
        rig_identity: kind.identity,
        total: PER_SWEEP,
        max_attempts: 3,
        ladder: null,
        ...now,
      })
    }
    for (let id = 1; id <= captures; id++) {
      const samples = Buffer.from(Int16Array.from({ length: 200 }, () => Math.floor(65536 * next()) - 32768).buffer)
      const sweepId = Math.ceil(id / PER_SWEEP)
      const frames = version < 5 ? { frame_times: Buffer.from(Float64Array.of(83.4, 100.1).buffer) } : {}
      row('capture', {
        id,
        sweep_id: sweepId,
        level_from: 0,
        level_to: 255,
        repeat: 1,
        attempt: 1,
        position: id % PER_SWEEP,
        round: 0,
        verdict: 'good',
        taken_at: `2029-01-01T00:00:00.${id}Z`,
        sample_count: 200,
        sample_rate_hz: 50_000,
        trigger_index: 50,
        source: 'invented',
        frame_source: 'page',
        frame_ms: 16.7,
        frame_switch_ms: 100.1 + id,
        frame_dropped: 0,
        ...frames,
        ...(version < 4 ? {} : { frame_since_trigger_s: next() }),
      })
      row('trace', {
        capture_id: id,
        format: 'int16',
        sample_rate_hz: 50_000,
        scale_v: 5 / 32768,
        offset_v: 0,
        range_v: 5,
        crc32: crc32(samples),
        samples,
      })
      if (version < 5) row('overview', { capture_id: id, block: 512, extremes: Buffer.alloc(4) })
      row('result', {
        id,
        analysis_id: 1,
        sweep_id: sweepId,
        capture_id: id,
        level_from: 0,
        level_to: 255,
        flag_count: 1,
        arrival_s: next(),
        overshoot_pct: 10 * next(),
      })
      row('result_detail', { result_id: id, onset_s: next(), u_arrival_s: next() / 1000 })
      row('result_reason', { result_id: id, measure_id: 1, phrase_id: 1 })
      row('result_flag', { result_id: id, origin: 0, number: 0, flag: 'hum', evidence: `Invented ${id}.`, unit: 'Hz' })
      if (id % 100 === 0) {
        const review = { id, capture_id: id, decision: 'exclude', reason: 'Lamp.', reviewer: 'A', at: 'then' }
        row('review', review)
        row('standing', { capture_id: id, review_id: id, decision: 'exclude', override_id: 0 })
      }
    }
    row('event', { at: 'then', level: 'info', text: 'Written.' })
  })()
  db.pragma('foreign_key_check')
  db.close()
}

const KEPT: Readonly<Record<string, string>> = {
  campaign: 'id, name, display, note, created_at',
  sweep: 'id, campaign_id, plan, state, reason, created_at, rig_identity, total, max_attempts, ladder',
  capture: `id, sweep_id, level_from, level_to, repeat, attempt, position, round, verdict, taken_at, sample_count,
    sample_rate_hz, trigger_index, source, frame_source, frame_ms, frame_switch_ms, frame_dropped`,
  trace: 'capture_id, format, sample_rate_hz, scale_v, offset_v, range_v, crc32, samples',
  recipe: 'id, hash, parameters, created_at',
  analysis: 'id, recipe_hash, algorithm',
  result: 'id, analysis_id, sweep_id, capture_id, override_id, flag_count, arrival_s, overshoot_pct, snr',
  result_detail: 'result_id, onset_s, u_arrival_s, u_snr',
  result_reason: 'result_id, measure_id, phrase_id',
  result_flag: 'result_id, origin, number, flag, evidence, unit',
  review: 'id, capture_id, decision, reason, reviewer, at, undone',
  standing: 'capture_id, review_id, decision, override_id',
  event: 'id, at, level, text',
}

/** Number of rows and a hash of every value of each table, of what all versions hold. */
export function contentOf(path: string): Record<string, { rows: number; hash: string }> {
  const db = new Database(path, { readonly: true })
  try {
    return Object.fromEntries(
      Object.entries(KEPT).map(([table, columns]) => {
        const hash = createHash('sha256')
        let rows = 0
        for (const row of db.prepare(`SELECT ${columns} FROM ${table} ORDER BY 1, 2, 3`).raw().iterate()) {
          rows++
          for (const value of row as unknown[]) hash.update(Buffer.isBuffer(value) ? value : `${String(value)}\0`)
        }
        return [table, { rows, hash: hash.digest('hex') }]
      }),
    )
  } finally {
    db.close()
  }
}
