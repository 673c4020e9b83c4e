import { createContext, use } from 'react'

/** Ids of the screens of the application, provided by the shell; features link to one another without knowing them. */
export const ScreenIds = createContext<readonly string[]>([])

export const useHasScreen = (id: string): boolean => use(ScreenIds).includes(id)
