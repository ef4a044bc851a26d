#include "bus.h"
#include "settings.h"

#include <avr/io.h>
#include <util/delay.h>
#include <util/twi.h>

#define CLOCK _BV(PC5)
#define DATA _BV(PC4)

/* A line is pulled down by making its pin an output, and let go by making it an input: never driven high. */
#define PULL_DOWN(line) (DDRC |= (line))
#define LET_GO(line) (DDRC &= ~(line))
#define IS_HIGH(line) (PINC & (line))

/* One step takes 25 us at 400 kHz; a chip may stretch the clock. About half a millisecond, at 10 cycles a turn. */
#define PATIENCE (F_CPU / 10 / 2000)

void bus_begin(void)
{
    PORTC &= ~(CLOCK | DATA); /* the resistors on the bus pull up, to the chip's own supply */
    LET_GO(CLOCK | DATA);
    TWSR = 0;
    TWBR = BUS_DIVIDER;
    TWCR = _BV(TWEN);
}

/* After the bus did not move: who holds it? A chip that was cut off in the middle of a byte waits for clocks with the
 * data line held: it gets them, nine at most, and then a stop. [I2C-bus specification UM10204, 3.1.16, bus clear]
 * Against a clock line held low there is only waiting. */
static enum fault bus_clear(void)
{
    enum fault fault = FAULT_NO_ANSWER;
    TWCR = 0; /* the pins are ours */
    LET_GO(CLOCK | DATA);
    _delay_us(5);
    if (!IS_HIGH(CLOCK)) {
        fault = FAULT_CLOCK_HELD;
    } else {
        if (!IS_HIGH(DATA))
            fault = FAULT_DATA_HELD;
        for (uint8_t n = 0; n < 9 && !IS_HIGH(DATA); n++) {
            PULL_DOWN(CLOCK);
            _delay_us(5);
            LET_GO(CLOCK);
            _delay_us(5);
        }
        PULL_DOWN(DATA); /* a stop: data rises while the clock is high */
        _delay_us(5);
        LET_GO(DATA);
        _delay_us(5);
    }
    TWCR = _BV(TWEN);
    return fault;
}

/* One step of the bus; its status, or 0 where it did not come to an end. */
static uint8_t step(uint8_t what)
{
    TWCR = what | _BV(TWINT) | _BV(TWEN);
    for (uint16_t left = PATIENCE; left; left--)
        if (TWCR & _BV(TWINT))
            return TW_STATUS;
    return 0;
}

static uint8_t send(uint8_t byte)
{
    TWDR = byte;
    return step(0);
}

static void stop(void)
{
    TWCR = _BV(TWSTO) | _BV(TWINT) | _BV(TWEN);
    for (uint16_t left = PATIENCE; left && (TWCR & _BV(TWSTO)); left--)
        ;
}

/* What the chip said to a byte: yes, no (then the bus is let go), or nothing that makes sense. */
static enum fault said(uint8_t status, uint8_t yes, uint8_t no, enum fault refusal)
{
    if (status == yes)
        return FAULT_NONE;
    if (status != no)
        return bus_clear();
    stop();
    return refusal;
}

/* A chip is addressed and told a register. */
static enum fault address(uint8_t chip, uint8_t where)
{
    if (step(_BV(TWSTA)) != TW_START)
        return bus_clear();
    enum fault fault = said(send(chip << 1 | TW_WRITE), TW_MT_SLA_ACK, TW_MT_SLA_NACK, FAULT_NO_ANSWER);
    if (fault)
        return fault;
    return said(send(where), TW_MT_DATA_ACK, TW_MT_DATA_NACK, FAULT_REFUSED);
}

enum fault bus_read(uint8_t chip, uint8_t first, uint8_t *into, uint8_t count)
{
    enum fault fault = address(chip, first);
    if (fault)
        return fault;
    if (step(_BV(TWSTA)) != TW_REP_START)
        return bus_clear();
    fault = said(send(chip << 1 | TW_READ), TW_MR_SLA_ACK, TW_MR_SLA_NACK, FAULT_NO_ANSWER);
    if (fault)
        return fault;
    for (; count; count--) {
        /* The last byte is not acknowledged: the chip lets go of the data line. */
        uint8_t wanted = count > 1 ? TW_MR_DATA_ACK : TW_MR_DATA_NACK;
        if (step(count > 1 ? _BV(TWEA) : 0) != wanted)
            return bus_clear();
        *into++ = TWDR;
    }
    stop();
    return FAULT_NONE;
}

enum fault bus_write(uint8_t chip, uint8_t where, uint8_t value)
{
    enum fault fault = address(chip, where);
    if (fault)
        return fault;
    fault = said(send(value), TW_MT_DATA_ACK, TW_MT_DATA_NACK, FAULT_REFUSED);
    if (!fault)
        stop();
    return fault;
}
