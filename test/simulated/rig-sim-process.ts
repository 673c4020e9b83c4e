/** Runs the simulated rig as a process for tests: one JSON argument with the options that are plain data. */
import { createClock } from '#main/platform/clock.ts'
import { parseEye } from '#main/rig/simulated/eye/xvfb.ts'
import { runRigSim } from '#main/rig/simulated/rig-sim.ts'
import { toErrorDetail } from '#shared/domain/errors.ts'
import { simulationSchema } from '#shared/domain/rig.ts'

interface ProcessOptions {
  readonly ptyPath: string
  readonly controlPath?: string
  readonly eye?: string
  readonly refreshHz?: number
  readonly baudRate?: number
  readonly simulation?: Record<string, unknown>
}

const { eye, simulation, ...rest } = JSON.parse(process.argv[2] ?? '{}') as ProcessOptions
try {
  await runRigSim({
    ...rest,
    ...(eye === undefined ? {} : { eye: parseEye(eye) }),
    simulation: simulationSchema.parse(simulation ?? {}),
    clock: createClock(),
    log: (line) => process.stdout.write(`${line}\n`),
  })
  process.stdout.write('ended\n')
} catch (error) {
  process.stderr.write(`${JSON.stringify(toErrorDetail(error))}\n`)
  process.exitCode = 1
}
