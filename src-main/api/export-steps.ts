import type { ExportFile } from '#main/core/ports.ts'
import type { ExportStep } from '#shared/contract/exports.ts'

/**
 * A file as the steps of its stream. The next piece is made once the other side has taken enough of the earlier ones;
 * a reader that leaves (`signal`) ends the making.
 */
export async function* exportSteps(
  file: ExportFile,
  drained: () => Promise<void>,
  signal: AbortSignal,
): AsyncGenerator<ExportStep, void> {
  yield { kind: 'file', name: file.name }
  for await (const { bytes } of file.pieces(signal)) {
    yield { kind: 'piece', bytes }
    await drained()
    if (signal.aborted) return
  }
}
