import type { ReactingStimulus, StimulusRouter } from '#main/core/ports.ts'
import { AppError } from '#shared/domain/errors.ts'
import type { StimulusState } from '#shared/domain/views.ts'

/** One stimulus in front of two: levels go to the chosen one, and only its state is heard. */
export function createStimulusRouter(
  choices: Readonly<Record<'simulated' | 'page', ReactingStimulus>>,
  first: 'simulated' | 'page' = 'simulated',
  simulatedMenu: StimulusRouter['simulatedMenu'] = noMenu,
): StimulusRouter {
  const listeners = new Set<(state: StimulusState) => void>()
  let kind = first
  const current = (): ReactingStimulus => choices[kind]
  const announce = (): void => {
    for (const listener of listeners) listener(current().state())
  }
  for (const [name, stimulus] of Object.entries(choices))
    stimulus.onState(() => {
      if (name === kind) announce()
    })
  return {
    state: () => current().state(),
    onState(listener) {
      listeners.add(listener)
      return () => listeners.delete(listener)
    },
    prepare: (plan, signal, heights) => current().prepare(plan, signal, heights),
    react: (level, signal) => current().react(level, signal),
    picture: (picture, signal) => current().picture(picture, signal),
    holdAt: (place) => current().holdAt(place),
    show: (level, signal) => current().show(level, signal),
    release: () => current().release(),
    simulatedMenu,
    use(next) {
      if (next === kind) return
      kind = next
      announce()
    },
  }
}

/** Without a simulated display there is nothing to set, and nothing to give back to the plans. */
const noMenu: StimulusRouter['simulatedMenu'] = (menu) =>
  menu === null
    ? Promise.resolve()
    : Promise.reject(
        new AppError('stimulus-absent', 'This display has no menu that can be set from here.', 'Set it by hand.'),
      )
