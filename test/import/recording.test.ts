import { fc } from '../support/fast-check.ts'
import { describe, expect, it } from 'vitest'
import { AppError } from '#shared/domain/errors.ts'
import { checkedText, decodeText } from '#shared/import/decode.ts'
import { pairFromName, repeatFromName } from '#shared/import/file-name.ts'
import { guessMapping } from '#shared/import/guess.ts'
import { previewRecording } from '#shared/import/preview.ts'
import { parseRecording, type ParsedRecording } from '#shared/import/recording.ts'

const N = 40
const DT = 2e-5
const START = -2e-4
const timeAt = (i: number): number => START + i * DT
const voltsAt = (i: number): number => (i < 12 ? 0.25 : 3.5 - 2 * Math.exp(-(i - 12) / 4))

/** A recording as text; the parts differ from file to file as they do between instruments. */
function file(
  options: {
    header?: string
    delimiter?: string
    end?: string
    time?: (i: number) => string
    volts?: (i: number) => string
    rows?: number
    row?: (i: number, t: string, v: string) => string
  } = {},
): string {
  const { header = 'Time (s),Voltage (V)', delimiter = ',', end = '\n', rows = N } = options
  const time = options.time ?? ((i) => timeAt(i).toFixed(7))
  const volts = options.volts ?? ((i) => voltsAt(i).toFixed(5))
  const row = options.row ?? ((_, t, v) => `${t}${delimiter}${v}`)
  const lines = Array.from({ length: rows }, (_, i) => row(i, time(i), volts(i)))
  return [...(header === '' ? [] : header.split('\n')), ...lines].join(end) + end
}

function read(text: string): ParsedRecording {
  return parseRecording(text, guessMapping(text).mapping)
}

function expectFaithful(recording: ParsedRecording, tolerance = 6e-6): void {
  expect(recording.trace.samples.length).toBe(N)
  expect(recording.trace.sampleRateHz).toBe(50_000)
  expect(recording.startS).toBeCloseTo(START, 9)
  expect(recording.triggerIndex).toBe(10)
  recording.trace.samples.forEach((v: number, i: number) => expect(Math.abs(v - voltsAt(i))).toBeLessThan(tolerance))
}

/** The message of the error that reading a file gives. */
function problem(text: string): string {
  try {
    read(text)
  } catch (error) {
    expect(error).toBeInstanceOf(AppError)
    expect((error as AppError).code).toBe('import-unreadable')
    expect((error as AppError).remedy).not.toBe('')
    return (error as AppError).message
  }
  throw new Error('The file was read without complaint.')
}

const comma = (text: string): string => text.replace('.', ',')

describe('how files are written', () => {
  const forms: Record<string, string> = {
    'comma and point': file(),
    'carriage return and line feed': file({ end: '\r\n' }),
    'carriage return only': file({ end: '\r' }),
    'semicolon and decimal comma': file({
      header: 'Zeit (s);Spannung (V)',
      delimiter: ';',
      time: (i) => comma(timeAt(i).toFixed(7)),
      volts: (i) => comma(voltsAt(i).toFixed(5)),
    }),
    'tab and decimal comma': file({
      header: 't [s]\tU [V]',
      delimiter: '\t',
      time: (i) => comma(timeAt(i).toFixed(7)),
      volts: (i) => comma(voltsAt(i).toFixed(5)),
    }),
    bar: file({ header: 'time_s|voltage_v', delimiter: '|' }),
    'aligned with spaces': file({ header: '  time_s   voltage_v', row: (_, t, v) => `  ${t}    ${v}` }),
    'spaces after the comma': file({ delimiter: ', ' }),
    'quoted cells': file({ row: (_, t, v) => `"${t}","${v}"` }),
    'quoted decimal commas': file({ row: (_, t, v) => `"${comma(t)}","${comma(v)}"` }),
    'no header': file({ header: '' }),
    exponents: file({ time: (i) => timeAt(i).toExponential(6).toUpperCase() }),
    'names and units on two lines': file({ header: 'X,CH1\ns,V' }),
    'names and spelled units': file({ header: 'Source,CH1\nSecond,Volt' }),
    'milliseconds and millivolts': file({
      header: 'Time (ms),CH1 (mV)',
      time: (i) => (1e3 * timeAt(i)).toFixed(4),
      volts: (i) => (1e3 * voltsAt(i)).toFixed(2),
    }),
    microseconds: file({ header: 'Time (µs),V', time: (i) => (1e6 * timeAt(i)).toFixed(1) }),
    'a block of settings above': file({
      header: 'Model,Invented One\nRecord Length,40\nSample Interval,0.00002\nVertical Units,V\n\nTime,Ampl\ns,V',
    }),
    'settings beside the first rows': file({
      header: '',
      row: (i, t, v) => `${['Record Length,40,Points', 'Sample Interval,0.00002,s'][i] ?? ',,'},${t},${v}`,
    }),
    'a sample count before the time': file({
      header: 'Sample,Time (s),Voltage (V)',
      row: (i, t, v) => `${i},${t},${v}`,
    }),
    'the voltage before the time': file({ header: 'CH1 (V),Time (s)', row: (_, t, v) => `${v},${t}` }),
    'a trailing delimiter': file({ row: (_, t, v) => `${t},${v},` }),
    'empty lines between': file({ row: (i, t, v) => (i % 7 === 3 ? `${t},${v}\n` : `${t},${v}`) }),
    'empty rows at the end': `${file()},\n,\n\n`,
  }
  for (const [name, text] of Object.entries(forms))
    it(`reads ${name}`, () => {
      expectFaithful(read(text))
    })

  it('reads a footer as no sample and says so', () => {
    const recording = read(`${file()}End of record,\n`)
    expectFaithful(recording)
    expect(recording.warnings.join()).toMatch(/1 line after the last sample \(from line 42\)/)
  })

  it('takes the sample interval or rate from the header when there is no time column', () => {
    for (const header of [
      'Sample Interval,2.0E-05\nVoltage (V)',
      'Sampling rate: 50 kHz\nCH1 [V]',
      'Sample rate,50000 Sa/s\nVolt',
      'Sampling Period;20 µs\nVolt',
    ]) {
      const recording = read(file({ header, row: (_, _t, v) => v }))
      expect(recording.trace.sampleRateHz).toBe(50_000)
      expect(recording.trace.samples.length).toBe(N)
    }
    const counted = read(
      file({ header: 'X,CH1,Start,Increment\nSequence,Volt,-2.0E-4,2.0E-05', row: (i, _t, v) => `${i},${v}` }),
    )
    expect(counted.trace.sampleRateHz).toBe(50_000)
  })

  it('asks for the sample interval when it is nowhere', async () => {
    const text = file({ header: 'Voltage (V)', row: (_, _t, v) => v })
    expect(problem(text)).toMatch(/no time column, and the sample interval is not given/)
    const preview = await previewRecording('x.csv', text, null)
    expect(preview).toMatchObject({ sampleRateHz: 0, sampleCount: N })
    const given = await previewRecording('x.csv', text, { ...preview.mapping, sampleIntervalS: DT })
    expect(given.sampleRateHz).toBe(50_000)
  })

  it('shows what a file holds before it is imported', async () => {
    const text = file({
      header: 'Model,Invented One\nTime (ms),CH1 (mV),CH2 (mV)',
      time: (i) => (1e3 * timeAt(i)).toFixed(4),
      row: (_, t, v) => `${t},${v},7`,
    })
    const preview = await previewRecording('/x/panel_0-255_r3.csv', text, null)
    expect(preview.columns.map(({ name }) => name)).toEqual(['Time (ms)', 'CH1 (mV)', 'CH2 (mV)'])
    expect(preview.mapping).toMatchObject({ headerLines: 2, timeScaleS: 1e-3, voltageColumn: 1, voltageScaleV: 1e-3 })
    expect(preview.guess).toEqual({ from: 0, to: 255 })
    expect(preview.warnings.join()).toMatch(/2 columns could hold the voltage; column 2 \(CH1 \(mV\)\)/)
    expect(await previewRecording('x', text, { ...preview.mapping, voltageColumn: 2 })).toMatchObject({
      minV: 0.007,
      maxV: 0.007,
    })
  })
})

describe('encodings', () => {
  const text = file({ header: 'Time (µs),Voltage (V)', time: (i) => (1e6 * timeAt(i)).toFixed(1) })
  const utf16 = (mark: boolean, big: boolean): Uint8Array => {
    const bytes = Buffer.from(`${mark ? '\uFEFF' : ''}${text}`, 'utf16le')
    return big ? bytes.swap16() : bytes
  }
  const encodings: Record<string, Uint8Array> = {
    'UTF-8': Buffer.from(text),
    'UTF-8 with a mark': Buffer.from(`\uFEFF${text}`),
    'UTF-16 little-endian': utf16(true, false),
    'UTF-16 big-endian': utf16(true, true),
    'UTF-16 little-endian without a mark': utf16(false, false),
    'UTF-16 big-endian without a mark': utf16(false, true),
    'Latin-1': Buffer.from(text, 'latin1'),
  }
  for (const [name, bytes] of Object.entries(encodings))
    it(`reads ${name}`, () => {
      expect(decodeText(bytes)).toBe(text)
      expectFaithful(read(decodeText(bytes)))
    })

  it('refuses what is no text', () => {
    expect(() => decodeText(new Uint8Array(0))).toThrow(/is empty/)
    expect(() => decodeText(Buffer.from('\uFEFF  \r\n '))).toThrow(/no text in it/)
    expect(() => decodeText(Uint8Array.of(0x89, 0x50, 0x4e, 0x47, 13, 10, 26, 10, 0, 0, 0, 13))).toThrow(
      /zero byte at character 9/,
    )
    expect(() => checkedText('a\0b')).toThrow(/zero byte/)
  })
})

describe('wrong files name the line', () => {
  it.each<[string, string, RegExp]>([
    ['an overload word', file({ volts: (i) => (i === 20 ? 'OVLD' : '1.5') }), /^Line 22: .*“OVLD”.*no valid sample/],
    ['not-a-number', file({ volts: (i) => (i === 20 ? 'NaN' : '1.5') }), /^Line 22: .*“NaN”/],
    ['an overload in the first row', file({ volts: (i) => (i === 0 ? '-inf' : '1.5') }), /^Line 2: .*“-inf”/],
    ['the SCPI code for infinity', file({ volts: (i) => (i === 5 ? '9.9E37' : '1.5') }), /^Line 7: .*“9.9E37”/],
    ['an empty cell', file({ volts: (i) => (i === 20 ? '' : '1.5') }), /^Line 22: the voltage in column 2 is empty/],
    ['a missing column', file({ row: (i, t, v) => (i === 9 ? t : `${t},${v}`) }), /^Line 11 has 1 column;/],
    ['a word', file({ volts: (i) => (i === 20 ? '1.5x' : '1.5') }), /^Line 22: .*“1.5x”, which is not a number/],
    ['a damaged time', file({ time: (i) => (i === 20 ? '?' : timeAt(i).toFixed(7)) }), /^Line 22: the time reads “\?”/],
    [
      'time running backwards',
      file({ time: (i) => timeAt(i === 20 ? 3 : i).toFixed(7) }),
      /^Line 22: time goes backwards/,
    ],
    ['two records in one file', file() + file({ header: '' }), /^Line 42: time goes backwards.*several records/],
    ['one time for all', file({ header: 'Time (s),V', time: () => '0.001' }), /All samples carry the same time/],
    ['growing steps', file({ time: (i) => (1.2 ** i).toFixed(6) }), /^Line \d+: |^The time steps are not equal/],
    [
      'a moved sample',
      file({ time: (i) => timeAt(i === 20 ? 20.45 : i).toFixed(8) }),
      /^Line 2[23]: this time step is/,
    ],
    ['too few samples', file({ rows: 5 }), /has 5 samples; at least 16/],
    ['no table', 'Dear reader,\nthis is a letter.\n', /No table of numbers/],
    ['a page', '<html><body>not found</body></html>', /No table of numbers/],
    ['no line ends', `1,${'2,'.repeat(80_000)}`, /Line 1 has \d+ characters/],
    ['only one column beside time', file({ row: (_, t) => t }), /no time column|No column of voltages|goes backwards/],
  ])('%s', (_, text, message) => {
    expect(problem(text)).toMatch(message)
  })

  it('warns where whole numbers may be decimal commas, and never reads 0,001 as two columns', () => {
    const ambiguous = Array.from({ length: 30 }, (_, i) => `0,${10 + i},1,${50 + i}`).join('\n')
    expect(guessMapping(ambiguous).warnings.join()).toMatch(/decimal commas/)
    const single = Array.from({ length: 30 }, (_, i) => `0,0${10 + i}`).join('\n')
    expect(guessMapping(single).mapping).toMatchObject({ decimal: ',', timeColumn: null, voltageColumn: 0 })
  })
})

describe('time axes', () => {
  it('finds missing samples, holds the value before them and says where', () => {
    const lost = new Set([15, 16, 30])
    const text = [
      'time_s,voltage_v',
      ...Array.from({ length: N }, (_, i) => i)
        .filter((i) => !lost.has(i))
        .map((i) => `${timeAt(i).toFixed(7)},${voltsAt(i).toFixed(5)}`),
    ].join('\n')
    const recording = read(text)
    expect(recording.missing).toBe(3)
    expect(recording.trace.samples.length).toBe(N)
    expect(recording.trace.sampleRateHz).toBe(50_000)
    expect(recording.trace.samples[16]).toBe(recording.trace.samples[14])
    expect(recording.trace.samples[31]).toBeCloseTo(voltsAt(31), 5)
    expect(recording.warnings.join()).toMatch(/3 samples are missing \(first before line 17\)/)
  })

  it('reads a time column with too few digits by its ends', () => {
    const recording = read(file({ rows: 400, time: (i) => (i * DT).toFixed(4) }))
    expect(recording.trace.sampleRateHz).toBeCloseTo(50_000, -2)
    expect(recording.warnings.join()).toMatch(/too few digits/)
    const scientific = read(file({ rows: 4000, time: (i) => (0.5 + i * 1e-6).toExponential(5) }))
    expect(scientific.trace.sampleRateHz / 1e6).toBeCloseTo(1, 2)
  })

  it('says when steps are uneven but still takes them', () => {
    const recording = read(file({ time: (i) => (timeAt(i) + (i % 2) * 2e-6).toFixed(7) }))
    expect(recording.warnings.join()).toMatch(/vary by up to 1\d %/)
  })

  it('recovers any rate and start exactly from shortest decimals', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 500, max: 10_000_000 }),
        fc.integer({ min: 0, max: 900 }),
        fc.integer({ min: 20, max: 1000 }),
        (rate, trigger, count) => {
          const lines = Array.from({ length: count }, (_, i) => `${(i - trigger) / rate},${i % 3}`)
          const recording = read(`time_s,voltage_v\n${lines.join('\n')}`)
          expect(recording.trace.sampleRateHz).toBe(rate)
          expect(recording.triggerIndex).toBe(trigger < count ? trigger : 0)
          expect(recording.missing).toBe(0)
        },
      ),
      { numRuns: 60 },
    )
  })
})

const readBytes = (bytes: Uint8Array): void => {
  try {
    const text = decodeText(bytes)
    const recording = read(text)
    // What is read must be finite, plausible and about as long as the text has lines.
    expect(recording.trace.samples.every((v: number) => Number.isFinite(v))).toBe(true)
    expect(recording.trace.sampleRateHz).toBeGreaterThan(0)
    expect(recording.trace.samples.length - recording.missing).toBeLessThanOrEqual(text.split(/[\r\n]/).length)
  } catch (error) {
    expect(error).toBeInstanceOf(AppError)
    expect((error as AppError).code).toBe('import-unreadable')
  }
}

describe('any content', () => {
  it('gives an error or a recording for any bytes', () => {
    fc.assert(fc.property(fc.uint8Array({ maxLength: 2000 }), readBytes), { numRuns: 200 })
  })

  it('gives an error or a recording for any text of numbers, marks and words', () => {
    const piece = fc.constantFrom(
      '0',
      '1',
      '2.5',
      '-3',
      '1e-3',
      ',',
      ';',
      '\t',
      ' ',
      '|',
      '"',
      '\n',
      '\r\n',
      'NaN',
      'V',
      'time',
      '-',
      '.',
      'e',
    )
    fc.assert(
      fc.property(fc.array(piece, { maxLength: 600 }), (pieces) => readBytes(Buffer.from(pieces.join('')))),
      { numRuns: 300 },
    )
  })

  it('never moves, drops or invents a sample when a good file is damaged by one character', () => {
    const good = file()
    const at = (offset: number): number => good.indexOf('\n') + 1 + offset
    const original = [...(read(good).trace.samples as Float32Array)]
    fc.assert(
      fc.property(
        fc.integer({ min: good.indexOf('\n') + 1, max: good.length - 2 }),
        fc.constantFrom('x', '', ';', '"', 'N', '\0', '\uFFFD'),
        (at, mark) => {
          const damaged = good.slice(0, at) + mark + good.slice(at + 1)
          let samples: number[]
          try {
            const recording = read(checkedText(damaged))
            if (recording.missing > 0 || recording.warnings.length > 0) return
            samples = [...(recording.trace.samples as Float32Array)]
          } catch (error) {
            expect((error as AppError).code).toBe('import-unreadable')
            return
          }
          // A lost digit still reads as a number: at most that one sample differs.
          expect(samples.length).toBe(original.length)
          expect(samples.filter((v, i) => v !== original[i]).length).toBeLessThanOrEqual(1)
        },
      ),
      {
        numRuns: 300,
        examples: [
          [at(0), 'x'],
          [at(0), '"'],
          [at(10), 'x'],
        ],
      },
    )
  })
})

describe('file names', () => {
  it.each<[string, { from: number; to: number } | null]>([
    ['0-255.csv', { from: 0, to: 255 }],
    ['panel_51_to_204.csv', { from: 51, to: 204 }],
    ['C:\\records\\51→0.txt', { from: 51, to: 0 }],
    ['2026-03-04_0-255_r2_a1.csv', { from: 0, to: 255 }],
    ['20260304 144Hz 255_128 rep3.csv', { from: 255, to: 128 }],
    ['sweep-3_capture-12_0-255_trace.csv', { from: 0, to: 255 }],
    ['scope_0-255.csv', { from: 0, to: 255 }],
    ['scope_12_0-255.csv', { from: 0, to: 255 }],
    ['capture_12-0-255.csv', { from: 0, to: 255 }],
    ['invented-display_strong-2_144hz_sweep-3_capture-12_51-to-204_r2_a1_trace.csv', { from: 51, to: 204 }],
    ['scope12.csv', null],
    ['scope_12.csv', null],
    ['ch1_255.csv', null],
    ['0-256.csv', null],
    ['7-7.csv', null],
    ['1_2_3_4.csv', null],
    ['', null],
  ])('%s', (name, pair) => {
    expect(pairFromName(name)).toEqual(pair)
  })

  it('finds the repeat', () => {
    expect(repeatFromName('0-255_r2.csv')).toBe(2)
    expect(repeatFromName('0-255.csv')).toBeNull()
  })
})
