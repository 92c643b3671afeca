/** Words of the room "cloth". Keys begin with the room's name. */

export const words = {
  'cloth.empty.title': 'Nothing on the shelf yet',
  'cloth.empty.sentence': 'Photograph a cloth, or type its measures. Odd shapes, holes and stains are welcome.',
} as const;
