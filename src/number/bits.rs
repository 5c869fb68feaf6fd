//! What is done with the bits of a number: without calls and branches, so that a compiler takes several at once.

macro_rules! bits {
    ($module:ident, $float:ident, $bits:ident, fraction: $fraction:literal, bias: $bias:literal, third: $third:literal) => {
        pub mod $module {
            const FRACTION: $bits = (1 << $fraction) - 1;
            /// A number added to it has its whole part in the last bits.
            const WHOLE: $float = (3u64 << ($fraction - 1)) as $float;

            #[inline(always)]
            pub fn nearest(x: $float) -> $float {
                (x + WHOLE) - WHOLE
            }

            #[inline(always)]
            pub fn times_two_to(x: $float, whole: $float) -> $float {
                let exponent = (whole + WHOLE).to_bits().wrapping_add($bias);
                x * $float::from_bits(exponent << $fraction)
            }

            #[inline(always)]
            pub fn split(x: $float) -> ($float, $float) {
                const ROOT: $bits = std::$float::consts::SQRT_2.to_bits() & FRACTION;
                let bits = x.to_bits();
                // one power of two more from sqrt(2) on
                let carry = ((bits & FRACTION) + ((1 << $fraction) - ROOT)) >> $fraction;
                let exponent = (bits >> $fraction).wrapping_add(carry).wrapping_sub($bias);
                let rest = $float::from_bits(bits.wrapping_sub(exponent << $fraction));
                let whole = $float::from_bits(WHOLE.to_bits().wrapping_add(exponent)) - WHOLE;
                (whole, rest)
            }

            #[inline(always)]
            pub fn about_cube_root(x: $float) -> $float {
                // the first 32 bits will do
                let rest = $bits::BITS - 32;
                let third = ((u64::from(x.to_bits() >> rest) * 0x5555_5556) >> 32) as $bits;
                $float::from_bits((third + $third) << rest)
            }
        }
    };
}
bits!(of_f64, f64, u64, fraction: 52, bias: 1023, third: 715_094_163);
bits!(of_f32, f32, u32, fraction: 23, bias: 127, third: 709_958_130);
