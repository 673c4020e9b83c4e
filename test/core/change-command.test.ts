import { describe, expect, it } from 'vitest'
import { argumentsFor, parseChangeCommand } from '#shared/domain/change-command.ts'

const code = (work: () => unknown): string => {
  try {
    work()
    return 'accepted'
  } catch (error) {
    return (error as { code: string }).code
  }
}

describe('change command', () => {
  it('is split once, and what is filled in is never split again', () => {
    const command = parseChangeCommand(`"/opt/my tool" --set '{setting}' at={refresh} ""`)
    expect(command.program).toBe('/opt/my tool')
    expect(argumentsFor(command, { setting: 'x; rm "a" $(b)', refreshHz: 59.94 })).toEqual([
      '--set',
      'x; rm "a" $(b)',
      'at=59.94',
      '',
    ])
    expect(argumentsFor(command, { setting: '$& {refresh}', refreshHz: 60 })[1]).toBe('$& {refresh}')
  })
  it('refuses what it cannot run safely', () => {
    for (const bad of [
      '',
      'program {setting}',
      '{setting}',
      '/bin/x {name}',
      '/bin/x {',
      '/bin/x "open',
      'C:/x.bat {setting}',
    ])
      expect(code(() => parseChangeCommand(bad))).toBe('invalid-input')
    expect(code(() => parseChangeCommand('C:\\tools\\change.exe {setting}'))).toBe('accepted')
  })
})
