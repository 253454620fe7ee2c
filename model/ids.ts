// What an id looks like, and where new ones come from.
import { z } from 'zod'

export * from './id-factory.ts'

export const idSchema = z.string().regex(/^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/, 'must be an id (UUID in lower case)')
