import { crc32 as zlibCrc32 } from 'node:zlib'
import { fc } from '../support/fast-check.ts'
import { describe, expect, it } from 'vitest'
import { ERROR_QUEUE_LENGTH } from '#main/rig/simulated/instrument/status.ts'
import { crc32 } from '#main/rig/simulated/instrument/data-format.ts'
import { MESSAGE_LIMIT } from '#main/rig/simulated/instrument/program-input.ts'
import { blockBytes, instrumentRig } from './instrument-rig.ts'

function codes(answer: string, swapped = false): number[] {
  const bytes = blockBytes(answer)
  const view = new DataView(bytes.buffer)
  return Array.from({ length: bytes.length / 2 }, (_, i) => view.getInt16(2 * i, swapped))
}

describe('common commands and required SCPI commands', () => {
  it('has every one that IEEE 488.2 and SCPI-1999 mandate', () => {
    const rig = instrumentRig()
    for (const command of ['*CLS', '*ESE 0', '*OPC', '*RST', '*SRE 0', '*WAI', 'STAT:PRES'])
      expect(rig.line(command)).toBe('')
    for (const query of ['*ESE?', '*ESR?', '*OPC?', '*SRE?', '*STB?', '*TST?']) expect(rig.line(query)).toMatch(/^\d+$/)
    for (const name of ['OPERation', 'QUEStionable']) {
      for (const node of ['', ':EVENt', ':CONDition', ':ENABle'])
        expect(rig.line(`STATus:${name}${node}?`)).toMatch(/^\d+$/)
      rig.line(`STAT:${name}:ENAB 3`)
      expect(rig.line(`STAT:${name}:ENAB?`)).toBe('3')
    }
    expect(rig.line('SYSTem:VERSion?')).toBe('1999.0')
    expect(rig.line('SYSTem:ERRor:NEXT?')).toBe('0,"No error"')
    expect(rig.line('*IDN?').split(',')).toHaveLength(4)
    expect(rig.errors()).toEqual([])
  })

  it('lists headers in a definite block that all exist', () => {
    const rig = instrumentRig()
    const text = Buffer.from(blockBytes(rig.line('SYST:HELP:HEAD?'))).toString('latin1')
    const lines = text.split('\n')
    expect(lines.length).toBeGreaterThan(50)
    for (const entry of lines) {
      const query = !entry.includes('/nquery/')
      const header = entry.replace(/\/.*$/, '').replace('?', '').replaceAll(/[[\]]/g, '')
      if (!query || /FETC|READ|MEAS|TRAC|DIAG/.test(header)) continue
      rig.line(`${header}?`)
      expect([header, rig.errors()]).toEqual([header, []])
    }
  })

  it('reports power-on once and keeps masks across *CLS', () => {
    const rig = instrumentRig()
    expect(rig.line('*ESR?')).toBe('128')
    expect(rig.line('*ESR?')).toBe('0')
    rig.line('*ESE 60;*SRE 36;BOGUS')
    expect(rig.line('*STB?')).toBe(String((1 << 2) | (1 << 5) | (1 << 6)))
    rig.line('*CLS')
    expect(rig.line('*ESE?;*SRE?;*STB?')).toBe('60;36;16')
  })

  it('*RST brings defaults back, stops and forgets data, and leaves status alone', () => {
    const rig = instrumentRig()
    rig.line('SENS:SWE:POIN 77;:TRIG:SOUR BUS;:FORM REAL,32;:INIT:CONT ON;:BOGUS')
    rig.line('*RST')
    expect(rig.line('SENS:SWE:POIN?;:TRIG:SOUR?;:FORM?;:INIT:CONT?;:STAT:OPER:COND?')).toBe('15000;IMM;ASC,0;0;0')
    expect(rig.errors()).toEqual([-113])
  })
})

describe('headers and parameters', () => {
  it('takes short and long forms in any case, and nothing between', () => {
    const rig = instrumentRig()
    for (const header of ['sens:swe:poin', 'SENSE:SWEEP:POINTS', ':Sens:Sweep:POIN', 'SWE:POIN', 'SENS1:SWE1:POIN1']) {
      rig.line(`${header} 123`)
      expect(rig.line('SENS:SWE:POIN?')).toBe('123')
      rig.line('SENS:SWE:POIN 5')
    }
    expect(rig.errors()).toEqual([])
    for (const header of ['SENSO:SWE:POIN', 'SENS:SWEE:POIN', 'SENS:SWE', 'POIN', 'SENS::SWE:POIN']) {
      rig.line(`${header} 123`)
      expect(rig.line('SENS:SWE:POIN?')).toBe('5')
      expect([-113, -102, -111]).toContain(rig.errors()[0])
    }
    rig.line('SENS2:SWE:POIN 9')
    expect(rig.errors()).toEqual([-114])
  })

  it('continues the header path within a message, not across common commands or colons', () => {
    const rig = instrumentRig()
    rig.line('SENS:SWE:POIN 100;TINT 1E-3;*ESE 8;OFFS:POIN -10')
    expect(rig.line('SENS:SWE:POIN?;TINT?;OFFS:POIN?')).toBe('100;1.0E-3;-10')
    rig.line('TRIG:SOUR INT;LEV 500 MV;SLOP NEG;:SENS:SWE:POIN 200')
    expect(rig.line('TRIG:SOUR?;LEV?;SLOP?')).toBe('INT;5.0E-1;NEG')
    expect(rig.errors()).toEqual([])
    rig.line('SENS:SWE:POIN 300;SENS:SWE:TINT 1')
    expect(rig.errors()).toEqual([-113])
    rig.line('*CLS')
    rig.line('POIN 1')
    expect(rig.errors()).toEqual([-113])
  })

  it.each([
    ['SENS:SWE:TINT 20US', 'SENS:SWE:TINT?', 2e-5],
    ['SENS:SWE:TINT 20 us', 'SENS:SWE:TINT?', 2e-5],
    ['SENS:SWE:TINT .5E-3 S', 'SENS:SWE:TINT?', 5e-4],
    ['SENS:SWE:TINT MIN', 'SENS:SWE:TINT?', 1e-7],
    ['SENS:SWE:POIN MAXimum', 'SENS:SWE:POIN?', 4_000_000],
    ['SENS:SWE:POIN #H64', 'SENS:SWE:POIN?', 100],
    ['SENS:SWE:POIN #B1010', 'SENS:SWE:POIN?', 10],
    ['SENS:SWE:POIN 1.4E2', 'SENS:SWE:POIN?', 140],
    ['VOLT:RANG 2500 mV', 'VOLT:RANG:UPP?', 2.5],
    ['INP:FILT:LPAS:FREQ 20 KHZ', 'INP:FILT:FREQ?', 20_000],
    ['INP:FILT:LPAS:FREQ 1 MHZ', 'INP:FILT:FREQ?', 1e6],
    ['SENS:SWE:OFFS:POIN -5000', 'SENS:SWE:OFFS:POIN?', -5000],
    ['TRIG:DEL 1.5 MS', 'TRIG:DEL?', 0.0015],
  ])('%s', (set, query, value) => {
    const rig = instrumentRig()
    rig.line(set)
    expect(Number(rig.line(query))).toBeCloseTo(value, 12)
    expect(rig.errors()).toEqual([])
  })

  it.each([
    ['SENS:SWE:POIN', -109],
    ['SENS:SWE:POIN 1,2', -108],
    ['*RST 1', -108],
    ['*IDN? 1', -108],
    ['SENS:SWE:POIN "5"', -158],
    ['SENS:SWE:POIN FOO', -148],
    ['SENS:SWE:POIN #15Hello', -168],
    ['SENS:SWE:POIN (1,2)', -178],
    ['SENS:SWE:POIN 0', -222],
    ['SENS:SWE:POIN 1E9', -222],
    ['SENS:SWE:POIN INF', -222],
    ['SENS:SWE:POIN 5 V', -138],
    ['SENS:SWE:TINT 5 V', -131],
    ['SENS:SWE:TINT 1E99999', -123],
    ['SENS:SWE:TINT 1..2', -121],
    ['SENS:SWE:TINT 1 2', -103],
    ['SENS:SWE:TINT 1,', -109],
    ['TRIG:SOUR FOO', -224],
    ['TRIG:SOUR 5', -104],
    ['FORM INT,8', -224],
    ['INIT:CONT MAYBE', -224],
    ['BOGUS:THING', -113],
    ['*BOGUS', -113],
    ['*RST?', -113],
    ['STAT:OPER:COND 1', -113],
    ['AVERYLONGMNEMONIC', -112],
    ['SENS:SWE:POIN,5', -111],
    ['SENS:SWE:POIN "abc', -151],
    ['SENS:SWE:POIN #99', -161],
    ['\u00e9', -101],
    ['!', -102],
    ['*TRG', -211],
    ['FETC?', -230],
    ['DIAG:DATA:CRC?', -230],
    ['TRIG:SOUR BUS;:READ?', -214],
    ['SENS:SWE:POIN 10;OFFS:POIN -11;:INIT', -221],
    ['INIT;INIT', -213],
    ['TRIG:SOUR BUS;:INIT;:FETC?', -214],
    ['TRAC? "CH2"', -224],
    ['*IDN?;*ESE?', -440],
  ])('%s is error %i', (message, number) => {
    const rig = instrumentRig()
    rig.line(message)
    expect(rig.errors()).toEqual([number])
  })

  it('sets the bit of the error class', () => {
    const rig = instrumentRig()
    for (const [message, bit] of [
      ['BOGUS', 5],
      ['SENS:SWE:POIN 0', 4],
      ['x'.repeat(MESSAGE_LIMIT + 1), 3],
      ['*IDN?;*ESE?', 2],
    ] as const) {
      rig.line('*CLS')
      rig.line(message)
      expect(Number(rig.line('*ESR?'))).toBe(1 << bit)
    }
  })

  it('gives up a message at a command error and goes on after others', () => {
    const rig = instrumentRig()
    expect(rig.line('*ESE?;SENS:SWE:POIN 0;*SRE?')).toBe('0;0')
    expect(rig.line('*ESE?;BOGUS;*SRE?')).toBe('0')
    expect(rig.errors()).toEqual([-222, -113])
  })

  it('overflows its error queue with −350 in the last place', () => {
    const rig = instrumentRig()
    for (let i = 0; i < ERROR_QUEUE_LENGTH + 7; i++) rig.line('BOGUS')
    expect(Number(rig.line('SYST:ERR:COUN?'))).toBe(ERROR_QUEUE_LENGTH)
    const numbers = rig.errors()
    expect(numbers).toHaveLength(ERROR_QUEUE_LENGTH)
    expect(numbers.slice(0, -1).every((number) => number === -113)).toBe(true)
    expect(numbers[ERROR_QUEUE_LENGTH - 1]).toBe(-350)
  })
})

describe('acquisition', () => {
  const SETUP = 'SENS:VOLT:RANG:UPP 5;:SENS:SWE:TINT 1E-3;POIN 100;OFFS:POIN -20;:FORM:DATA INT,16;BORD NORM'

  it('fills, waits, records and ends after its real duration', () => {
    const rig = instrumentRig()
    rig.signal = (t) => (t < 100.5 ? 1 : 3)
    rig.line(`${SETUP};:TRIG:SOUR INT;LEV 2;SLOP POS;:INIT;*OPC`)
    expect(rig.line('*ESR?;STAT:OPER:COND?')).toBe('128;8')
    rig.wait(0.021)
    expect(rig.line('STAT:OPER:COND?')).toBe('40')
    rig.wait(0.48)
    expect(rig.line('STAT:OPER:COND?')).toBe('24')
    rig.wait(0.07)
    expect(rig.line('*ESR?;STAT:OPER:COND?')).toBe('0;24')
    rig.wait(0.015)
    expect(rig.line('*ESR?;STAT:OPER:COND?')).toBe('1;0')
    const data = codes(rig.line('FETC?'))
    expect(data).toHaveLength(100)
    // volts = code × 5 ÷ 32768; the first sample at or after the edge is the trigger.
    expect(data.slice(0, 20).every((code) => code === Math.round((1 / 5) * 32_768))).toBe(true)
    expect(data.slice(20).every((code) => code === Math.round((3 / 5) * 32_768))).toBe(true)
  })

  it('ignores edges of the other slope and edges before its pre-trigger memory is full', () => {
    const rig = instrumentRig()
    rig.signal = (t) => (t > 100.01 && t < 100.3 ? 3 : 1)
    rig.line(`${SETUP};:TRIG:SOUR INT;LEV 2;SLOP POS;:INIT`)
    rig.wait(2)
    expect(rig.line('STAT:OPER:COND?')).toBe('40')
    rig.line('ABOR;:TRIG:SLOP NEG')
    const start = rig.now()
    rig.signal = (t) => (t > start + 0.1 && t < start + 0.3 ? 3 : 1)
    rig.line('INIT')
    rig.wait(0.29)
    expect(rig.line('STAT:OPER:COND?')).toBe('40')
    rig.wait(0.2)
    expect(rig.line('STAT:OPER:COND?')).toBe('0')
    rig.wait(0.1)
    expect(codes(rig.line('FETC?')).indexOf(Math.round((1 / 5) * 32_768))).toBe(20)
  })

  it('keeps sample times on its own grid: the trigger is the first sample after the edge', () => {
    fc.assert(
      fc.property(fc.double({ min: 0.03, max: 0.2, noNaN: true }), (edge) => {
        const rig = instrumentRig()
        rig.signal = (t) => (t < 100 + edge ? 1 : 3)
        rig.line(`${SETUP};:TRIG:SOUR INT;LEV 2;:INIT`)
        rig.wait(0.5)
        const data = codes(rig.line('FETC?'))
        expect(data.findIndex((code) => code > 10_000)).toBe(20)
      }),
      { numRuns: 40 },
    )
  })

  it('starts on *TRG, on the external input and by itself', () => {
    const rig = instrumentRig()
    rig.line(`${SETUP};:TRIG:SOUR BUS;:INIT`)
    rig.line('*TRG')
    expect(rig.errors()).toEqual([-211])
    rig.wait(0.1)
    rig.line('*TRG')
    rig.wait(0.05)
    expect(rig.line('STAT:OPER:COND?')).toBe('24')
    rig.wait(0.05)
    expect(codes(rig.line('FETC?'))).toHaveLength(100)
    rig.line('TRIG:SOUR EXT;:INIT')
    rig.wait(1)
    rig.instrument.externalTrigger()
    rig.wait(0.1)
    expect(rig.line('STAT:OPER:COND?')).toBe('0')
    rig.line('TRIG:SOUR IMM;:INIT')
    rig.wait(0.1)
    expect(rig.line('STAT:OPER:COND?')).toBe('0')
    rig.line('TRIG:SOUR BUS;:INIT')
    rig.wait(0.1)
    rig.line('TRIG')
    rig.wait(0.1)
    expect(codes(rig.line('FETC?'))).toHaveLength(100)
    expect(rig.errors()).toEqual([])
  })

  it('answers *OPC?, READ? and FETC? when the sweep is over, and *WAI holds what follows', () => {
    const rig = instrumentRig()
    expect(rig.line(`${SETUP};:INIT;*OPC?`)).toBe('')
    expect(rig.wait(0.05)).toBe('')
    expect(rig.wait(0.06)).toBe('1\n')
    expect(rig.line('INIT;*WAI;*ESE?')).toBe('')
    expect(rig.wait(0.11)).toBe('0\n')
    expect(rig.line('READ?')).toBe('')
    expect(codes(rig.wait(0.11).trimEnd())).toHaveLength(100)
    expect(rig.line('INIT;:FETC?')).toBe('')
    expect(codes(rig.wait(0.11).slice(0, -1))).toHaveLength(100)
  })

  it('is stopped by ABORt while a query waits, and drops that query', () => {
    const rig = instrumentRig()
    rig.line(`${SETUP};:TRIG:SOUR INT;LEV 9`)
    expect(rig.line('INIT;*OPC?')).toBe('')
    rig.wait(1)
    expect(rig.ask('*IDN?\n')).toBe('')
    expect(rig.ask(':ABOR\n')).toBe('')
    expect(rig.errors()).toEqual([-410])
    expect(rig.line('STAT:OPER:COND?')).toBe('0')
    rig.line('FETC?')
    expect(rig.errors()).toEqual([-230])
  })

  it('calls data stale once a setting they depend on changes, but not their format', () => {
    const rig = instrumentRig()
    rig.line(`${SETUP};:INIT`)
    rig.wait(0.2)
    expect(codes(rig.line('FORM:BORD SWAP;:FETC?'), true)[0]).toBe(Math.round((1 / 5) * 32_768))
    const bytes = blockBytes(rig.line('FORM REAL,32;:FORM:BORD NORM;:FETC?'))
    expect(new DataView(bytes.buffer).getFloat32(0)).toBeCloseTo(1, 3)
    expect(Number(rig.line('FORM ASC;:TRAC:DATA? CH1').split(',')[99])).toBeCloseTo(1, 3)
    rig.line('SENS:VOLT:RANG 2')
    rig.line('FETC?')
    expect(rig.errors()).toEqual([-230])
  })

  it('says when the input was beyond its range', () => {
    const rig = instrumentRig()
    rig.signal = (t) => (t > 100.05 ? 5.01 : 1)
    rig.line(`${SETUP};:INIT`)
    rig.wait(0.2)
    expect(rig.line('STAT:QUES:COND?;EVEN?')).toBe('1;1')
    expect(rig.errors()).toEqual([-231])
    expect(Math.max(...codes(rig.line('FETC?')))).toBe(32_767)
    rig.signal = () => 1
    rig.line('INIT')
    rig.wait(0.2)
    expect(rig.line('STAT:QUES:COND?;EVEN?')).toBe('0;0')
  })

  it('quantises to its bits and keeps volts = code × range ÷ 32768', () => {
    const rig = instrumentRig(8)
    rig.signal = (t) => -4 + (t - 100) * 80
    rig.line(`${SETUP};:SENS:SWE:OFFS:POIN 0;:INIT`)
    rig.wait(0.2)
    const data = codes(rig.line('FETC?'))
    expect(data.every((code) => code % 256 === 0)).toBe(true)
    data.forEach((code, i) =>
      expect(Math.abs((code * 5) / 32_768 - (-4 + i * 0.08))).toBeLessThanOrEqual(5 / 256 + 1e-9),
    )
  })

  it('runs on by itself with INIT:CONT ON until it is told to stop', () => {
    const rig = instrumentRig()
    rig.line(`${SETUP};:INIT:CONT ON`)
    rig.wait(0.35)
    expect(Number(rig.line('STAT:OPER:COND?'))).not.toBe(0)
    expect(rig.line('*OPC?')).toBe('1')
    expect(codes(rig.line('FETC?'))).toHaveLength(100)
    rig.line('INIT:CONT OFF')
    rig.wait(0.2)
    expect(rig.line('STAT:OPER:COND?')).toBe('0')
    expect(rig.errors()).toEqual([])
  })

  it('gives the CRC-32 of the last block, the one zlib computes', () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 300 }), (bytes) => {
        expect(crc32(bytes)).toBe(zlibCrc32(bytes))
      }),
    )
    const rig = instrumentRig()
    rig.signal = (t) => Math.sin(t * 50)
    rig.line(`${SETUP};:INIT`)
    rig.wait(0.2)
    const bytes = blockBytes(rig.line('FETC?'))
    expect(Number(rig.line('DIAG:DATA:CRC?'))).toBe(zlibCrc32(bytes))
  })
})

describe('bytes', () => {
  const SCRIPT = [
    '*CLS',
    '*RST',
    'SENS:SWE:POIN 50;TINT 1 MS',
    'FORM INT,16',
    'SENS:SWE:POIN?;:SYST:VERS?',
    'BOGUS;*ESE?',
    'SYST:HELP:HEAD?',
    '*ESR?;*STB?',
    'SYST:ERR?',
    '*IDN?',
  ].join('\n')

  it('answers alike however the stream is cut', () => {
    const whole = instrumentRig().ask(`${SCRIPT}\n`)
    expect(whole).toContain('50;1999.0\n')
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 1, max: 25 }), { minLength: 1, maxLength: 60 }), (cuts) => {
        const rig = instrumentRig()
        let text = `${SCRIPT}\n`
        let out = ''
        for (let i = 0; text !== ''; i++) {
          const length = cuts[i % cuts.length] ?? 1
          out += rig.ask(text.slice(0, length))
          text = text.slice(length)
        }
        expect(out).toBe(whole)
      }),
    )
  })

  /** One NL ends whatever was begun; then it answers as ever. */
  function expectInStep(rig: ReturnType<typeof instrumentRig>): void {
    rig.ask('\n')
    rig.line('*RST')
    rig.line('*CLS')
    expect(rig.line('SYST:ERR?')).toBe('0,"No error"')
  }

  it('never throws, and one NL brings it back into step after any bytes', () => {
    fc.assert(
      fc.property(fc.array(fc.uint8Array({ maxLength: 400 }), { maxLength: 6 }), (chunks) => {
        const rig = instrumentRig()
        for (const chunk of chunks) rig.instrument.receive(chunk)
        expectInStep(rig)
      }),
      { numRuns: 300 },
    )
  })

  it('survives messages made of its own vocabulary', () => {
    const words = [
      'SENS',
      ':',
      'SWE',
      'POIN',
      '?',
      ' ',
      ';',
      '*',
      'INIT',
      'FETC',
      'TRIG',
      '"',
      '#',
      '5',
      '1E9',
      ',',
      'MAX',
      '*TRG',
      '*WAI',
      'READ?',
      '\n',
      "'",
      '(',
      '-',
    ]
    fc.assert(
      fc.property(fc.array(fc.constantFrom(...words), { maxLength: 60 }), (parts) => {
        const rig = instrumentRig()
        rig.ask(parts.join(''))
        rig.wait(0.5)
        expectInStep(rig)
      }),
      { numRuns: 300 },
    )
  })

  it('refuses a message without end and takes the next one', () => {
    const rig = instrumentRig()
    rig.ask('x'.repeat(3 * MESSAGE_LIMIT))
    expect(rig.line('*ESE?')).toBe('')
    expect(rig.line('*ESE?')).toBe('0')
    expect(rig.errors()).toEqual([-363])
  })
})
