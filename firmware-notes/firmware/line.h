/* Writes a sentence, see ../wire-format.md. */
#ifndef LINE_H
#define LINE_H

#include <stdint.h>

struct line {
    char text[80]; /* the longest sentence has 72 */
    uint8_t length;
};

void line_begin(struct line *line, const char *address);
void line_word(struct line *line, const char *word);
void line_unsigned(struct line *line, uint32_t number);
void line_signed(struct line *line, int16_t number);
void line_hundredths(struct line *line, int16_t number);
void line_end(struct line *line);

#endif
