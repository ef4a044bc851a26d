/* The serial port: whole lines go into a buffer, an interrupt sends them. */
#ifndef SERIAL_H
#define SERIAL_H

#include <stdbool.h>
#include <stdint.h>

void serial_begin(void);

/* Takes the line whole, or not at all where the buffer has no room for it. Never waits. */
bool serial_send(const char *line, uint8_t length);

#endif
