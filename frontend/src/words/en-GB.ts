/** The whole catalogue in British English. Another language is a file of the same keys. */

import { words as advice } from './advice';
import { words as cloth } from './cloth';
import { words as general } from './general';
import { words as journal } from './journal';
import { words as lay } from './lay';
import { words as ledger } from './ledger';
import { words as making } from './making';
import { words as mockUps } from './mock-ups';
import { words as paper } from './paper';
import { words as pattern } from './pattern';
import { words as stages } from './stages';
import { words as tracing } from './tracing';
import { words as trueing } from './trueing';

export const WORDS = {
  ...general, ...tracing, ...pattern, ...trueing, ...mockUps, ...stages, ...advice, ...cloth, ...lay, ...paper, ...making, ...ledger, ...journal,
} as const;
