#include "serial.h"
#include "settings.h"

#include <avr/interrupt.h>
#include <avr/io.h>

#define ROOM 128 /* a power of two: two lines of samples */

static volatile uint8_t ring[ROOM];
static volatile uint8_t head; /* where the next byte is put; written by the program alone */
static volatile uint8_t tail; /* where the next byte is taken; written by the interrupt alone */

ISR(USART_UDRE_vect)
{
    if (tail == head) {
        UCSR0B &= ~_BV(UDRIE0);
    } else {
        UDR0 = ring[tail];
        tail = (tail + 1) % ROOM;
    }
}

void serial_begin(void)
{
    UCSR0A = _BV(U2X0);
    UBRR0 = BAUD_DIVIDER;
    UCSR0C = _BV(UCSZ01) | _BV(UCSZ00); /* 8 data bits, no parity, 1 stop bit */
    UCSR0B = _BV(TXEN0);
}

bool serial_send(const char *line, uint8_t length)
{
    uint8_t free = (uint8_t)(tail - head - 1) % ROOM;
    if (length > free)
        return false;
    for (; length; length--) {
        ring[head] = *line++;
        head = (head + 1) % ROOM;
    }
    UCSR0B |= _BV(UDRIE0);
    return true;
}
