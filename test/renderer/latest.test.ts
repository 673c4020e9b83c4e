import { describe, expect, it } from 'vitest'
import { createLatest } from '../../src-renderer/client/latest.ts'

interface Pending {
  readonly question: number
  readonly signal: AbortSignal
  readonly answer: (value: string) => void
  readonly fail: (error: Error) => void
}

function harness() {
  const pending: Pending[] = []
  const answers: string[] = []
  const errors: unknown[] = []
  const latest = createLatest<number, string>({
    put: (question, signal) =>
      new Promise((answer, fail) => {
        pending.push({ question, signal, answer, fail })
      }),
    onAnswer: (answer) => answers.push(answer),
    onError: (error) => errors.push(error),
  })
  const settle = () => new Promise((resolve) => setTimeout(resolve, 0))
  return { latest, pending, answers, errors, settle }
}

describe('the latest question', () => {
  it('has one under way at most, and only the newest of those that came meanwhile follows', async () => {
    const { latest, pending, answers, settle } = harness()
    for (let i = 1; i <= 1000; i++) latest.ask(i)
    expect(pending.map(({ question }) => question)).toEqual([1])
    pending[0]?.answer('one')
    await settle()
    expect(pending.map(({ question }) => question)).toEqual([1, 1000])
    pending[1]?.answer('last')
    await settle()
    expect(answers).toEqual(['one', 'last'])
    expect(pending).toHaveLength(2)
  })

  it('goes on after a failure', async () => {
    const { latest, pending, answers, errors, settle } = harness()
    latest.ask(1)
    latest.ask(2)
    pending[0]?.fail(new Error('no'))
    await settle()
    pending[1]?.answer('two')
    await settle()
    expect(errors).toHaveLength(1)
    expect(answers).toEqual(['two'])
  })

  it('cancels what is under way when it is stopped, and says nothing any more', async () => {
    const { latest, pending, answers, errors, settle } = harness()
    latest.ask(1)
    latest.ask(2)
    latest.stop()
    expect(pending[0]?.signal.aborted).toBe(true)
    pending[0]?.fail(new Error('cancelled'))
    await settle()
    latest.ask(3)
    expect(pending).toHaveLength(1)
    expect([answers, errors]).toEqual([[], []])
  })
})
