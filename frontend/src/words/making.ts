/** Words of the room "making". Keys begin with the room's name. */

export const words = {
  'making.empty.title': 'The order of work comes last',
  'making.empty.sentence': 'The cutting list and the steps of sewing are written as soon as there are pieces and seams.',
  'making.empty.do': 'Trace the first piece',
  'making.title': 'Making up {name}',

  'making.cautions': 'Before you begin',
  'making.cautions.read': 'I have read this',
  'making.cautions.again': 'Read it again',
  'making.cautions.kept': { one: '{n} caution holds for this garment.', other: '{n} cautions hold for this garment.' },
  'making.source': 'Source: {source}.',

  'making.order': 'Order of work',
  'making.progress': '{done} of {n} done',
  'making.finished': 'Every step is done. Wear it well.',
  'making.next': 'Next',
  'making.next.go': 'To the next step',
  'making.drawing': 'Drawing of {pieces}',
  'making.waiting': {
    one: '{n} tick is kept in this window and told to Eke as soon as it answers.',
    other: '{n} ticks are kept in this window and told to Eke as soon as it answers.',
  },

  'making.cutting': 'Cutting list',
  'making.cutting.empty': 'No piece says yet from which cloth it is cut.',
  'making.cutting.pieces': { one: '{n} piece to cut', other: '{n} pieces to cut' },
  'making.needs': 'To have ready',
  'making.needs.empty': 'Nothing besides the cloth.',

  'making.parts': 'Parts of this page',
  'making.print': 'Print',
  'making.print.order': 'Order of work',
  'making.print.cutting': 'Cutting list',
} as const;
