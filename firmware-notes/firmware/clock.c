#include "clock.h"
#include "settings.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>
#include <util/atomic.h>

static volatile uint8_t beats;
static volatile uint32_t at_beat; /* the time of the last beat, microseconds */

ISR(TIMER1_COMPA_vect)
{
    beats++;
    at_beat += PERIOD_US;
}

void clock_begin(void)
{
    TCCR1A = 0;
    TCCR1B = _BV(WGM12) | _BV(CS11); /* starts anew at OCR1A; crystal / 8 */
    OCR1A = PERIOD_TICKS - 1;
    TIMSK1 = _BV(OCIE1A);
    set_sleep_mode(SLEEP_MODE_IDLE);
}

uint8_t clock_wait(void)
{
    uint8_t passed;
    cli();
    while (beats == 0) {
        /* The instruction after sei() runs before any interrupt: no beat slips in between look and sleep. */
        sleep_enable();
        sei();
        sleep_cpu();
        sleep_disable();
        cli();
    }
    passed = beats;
    beats = 0;
    sei();
    return passed;
}

uint32_t clock_micros(void)
{
    uint32_t micros;
    uint16_t ticks;
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
    {
        ticks = TCNT1;
        micros = at_beat;
        if (TIFR1 & _BV(OCF1A)) { /* a beat has come that could not be counted yet */
            ticks = TCNT1;
            micros += PERIOD_US;
        }
    }
    return micros + ticks * PERIOD_US / PERIOD_TICKS;
}
