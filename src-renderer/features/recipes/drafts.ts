import { useSyncExternalStore } from 'react'
import { readStored, writeStored } from '../../ui/storage.ts'
import { DraftBook, type Draft } from './draft.ts'

const KEY = 'recipe-drafts'

/** The one book of drafts of this page: leaving the screen loses nothing. */
export const DRAFTS = new DraftBook({ read: () => readStored(KEY), write: (value) => writeStored(KEY, value) })

export function useDraft(hash: string): Draft | undefined {
  return useSyncExternalStore(DRAFTS.subscribe, () => DRAFTS.get(hash))
}

export function useUnsaved(): readonly string[] {
  return useSyncExternalStore(DRAFTS.subscribe, DRAFTS.unsaved)
}
