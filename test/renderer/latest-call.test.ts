import { expect, it } from 'vitest'
import { latestCall } from '../../src-renderer/client/latest-call.ts'

/** Calls whose answers are given by hand. */
function bench() {
  const open: { argument: number; resolve: (text: string) => void; reject: (error: unknown) => void }[] = []
  const said: string[] = []
  const calls = latestCall<number, string>(
    (argument) => new Promise((resolve, reject) => open.push({ argument, resolve, reject })),
    (answer, argument) => said.push(`${argument}: ${answer}`),
    (error) => said.push(String(error)),
  )
  const settle = () => new Promise<void>((resolve) => setTimeout(resolve))
  return { open, said, calls, settle }
}

it('makes one call at a time and of those waiting only the newest', async () => {
  const { open, said, calls, settle } = bench()
  for (const argument of [1, 2, 3, 4]) calls.ask(argument)
  expect(open.map(({ argument }) => argument)).toEqual([1])
  open[0]?.resolve('first')
  await settle()
  expect(open.map(({ argument }) => argument)).toEqual([1, 4])
  open[1]?.resolve('last')
  await settle()
  expect(said).toEqual(['1: first', '4: last'])
})

it('goes on after a failure', async () => {
  const { open, said, calls, settle } = bench()
  calls.ask(1)
  calls.ask(2)
  open[0]?.reject(new Error('no'))
  await settle()
  open[1]?.resolve('yes')
  await settle()
  expect(said).toEqual(['Error: no', '2: yes'])
})

it('reports nothing that was asked before it was stopped', async () => {
  const { open, said, calls, settle } = bench()
  calls.ask(1)
  calls.ask(2)
  calls.stop()
  open[0]?.resolve('late')
  await settle()
  expect(open).toHaveLength(1)
  expect(said).toEqual([])
})
