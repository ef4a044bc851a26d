#include "line.h"

#include <stdlib.h>

static void put(struct line *line, char character)
{
    if (line->length < sizeof line->text)
        line->text[line->length++] = character;
}

static void put_all(struct line *line, const char *text)
{
    while (*text)
        put(line, *text++);
}

void line_begin(struct line *line, const char *address)
{
    line->length = 0;
    put(line, '$');
    put_all(line, address);
}

void line_word(struct line *line, const char *word)
{
    put(line, ',');
    put_all(line, word);
}

void line_unsigned(struct line *line, uint32_t number)
{
    char digits[11];
    line_word(line, ultoa(number, digits, 10));
}

void line_signed(struct line *line, int16_t number)
{
    char digits[7];
    line_word(line, itoa(number, digits, 10));
}

void line_hundredths(struct line *line, int16_t number)
{
    uint16_t size = number < 0 ? -(uint16_t)number : (uint16_t)number;
    char digits[6];
    line_word(line, number < 0 ? "-" : "");
    put_all(line, utoa(size / 100, digits, 10));
    put(line, '.');
    put(line, '0' + size / 10 % 10);
    put(line, '0' + size % 10);
}

void line_end(struct line *line)
{
    static const char hex[] = "0123456789ABCDEF";
    uint8_t sum = 0;
    for (uint8_t at = 1; at < line->length; at++) /* all behind the '$' */
        sum ^= line->text[at];
    put(line, '*');
    put(line, hex[sum >> 4]);
    put(line, hex[sum & 15]);
    put(line, '\r');
    put(line, '\n');
}
