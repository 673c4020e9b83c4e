import type { ContractRouterClient } from '@orpc/contract'
import type { Contract } from '#shared/contract/contract.ts'
import type { CallOptions } from './endpoint.ts'

/** Calls take `(input, { signal, context: { timeoutMs } })`; every rejection is an AppError. */
export type Client = ContractRouterClient<Contract, CallOptions>
