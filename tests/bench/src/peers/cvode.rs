//! CVODE of SUNDIALS 6, loaded at run time so that the bench builds without it. The only unsafe code of the project.

use std::ffi::{c_int, c_long, c_void};
use std::fs;
use std::path::Path;
use std::ptr;

use baysoak::study::recording::Recording;
use libloading::os::unix::{Library as Shared, RTLD_GLOBAL, RTLD_NOW};

use super::rhs::{Rhs, start};
use super::{Cost, States};
use crate::Fault;

type Handle = *mut c_void;
type RhsFn = unsafe extern "C" fn(f64, Handle, Handle, Handle) -> c_int;

const BDF: c_int = 2;
const NORMAL: c_int = 1;
const MOST_STEPS: c_long = 1_000_000;
/// Parts of SUNDIALS in the order in which they need each other.
const PARTS: [&str; 6] = [
    "generic",
    "nvecserial",
    "sunmatrixdense",
    "sunlinsoldense",
    "sunnonlinsolnewton",
    "cvode",
];

/// The functions that are used.
pub struct Library {
    parts: Vec<Shared>,
}

/// How a folder's libraries were built, as far as they tell.
pub fn how_built(folder: &Path) -> String {
    let beside = folder.join("built.txt");
    fs::read_to_string(beside).map_or_else(
        |_| "as the system's package was built".to_owned(),
        |text| text.trim().to_owned(),
    )
}

macro_rules! function {
    ($library:expr, $name:literal, fn($($arg:ty),*) -> $out:ty) => {{
        let name = concat!($name, "\0").as_bytes();
        let found = $library.parts.iter().rev().find_map(|part| {
            // SAFETY: the signature is that of the headers of SUNDIALS 6 with double precision and 64-bit indices.
            unsafe { part.get::<unsafe extern "C" fn($($arg),*) -> $out>(name) }.ok()
        });
        *found.ok_or(concat!($name, " is not in the libraries"))?
    }};
}

unsafe extern "C" fn rates(t: f64, y: Handle, dy: Handle, data: Handle) -> c_int {
    // SAFETY: `data` is the `Callback` that lives as long as the march; vectors have as many entries as nodes.
    unsafe {
        let call = &mut *data.cast::<Callback>();
        let y = std::slice::from_raw_parts((call.data_of)(y), call.nodes);
        let dy = std::slice::from_raw_parts_mut((call.data_of)(dy), call.nodes);
        call.rhs.call(t, y, dy);
    }
    0
}

struct Callback<'a> {
    rhs: Rhs<'a>,
    nodes: usize,
    data_of: unsafe extern "C" fn(Handle) -> *mut f64,
}

impl Library {
    /// Opens the libraries in a folder.
    pub fn open(folder: &Path) -> Result<Self, Fault> {
        let mut parts = Vec::new();
        for part in PARTS {
            let path = folder.join(format!("libsundials_{part}.so"));
            // SAFETY: loading SUNDIALS runs no code beyond its empty initialisers.
            let opened = unsafe { Shared::open(Some(&path), RTLD_NOW | RTLD_GLOBAL) };
            parts.push(opened.map_err(|e| format!("{}: {e}", path.display()))?);
        }
        let library = Self { parts };
        let version = function!(
            library,
            "SUNDIALSGetVersionNumber",
            fn(*mut c_int, *mut c_int, *mut c_int, *mut i8, c_int) -> c_int
        );
        let (mut major, mut minor, mut patch, mut label) = (0, 0, 0, [0_i8; 16]);
        // SAFETY: the label's length is given.
        unsafe { version(&mut major, &mut minor, &mut patch, label.as_mut_ptr(), 16) };
        if major != 6 {
            return Err(format!("SUNDIALS {major}.{minor}.{patch}, this bench speaks to 6").into());
        }
        Ok(library)
    }

    /// Marches at an absolute tolerance [K]; `restart` at each span, or keep the history across.
    pub fn march(
        &self,
        recording: &Recording,
        absolute: f64,
        restart: bool,
    ) -> Result<(States, Cost), Fault> {
        let context_create = function!(self, "SUNContext_Create", fn(Handle, *mut Handle) -> c_int);
        let context_free = function!(self, "SUNContext_Free", fn(*mut Handle) -> c_int);
        let vector_make = function!(self, "N_VMake_Serial", fn(i64, *mut f64, Handle) -> Handle);
        let vector_free = function!(self, "N_VDestroy", fn(Handle) -> ());
        let data_of = function!(self, "N_VGetArrayPointer", fn(Handle) -> *mut f64);
        let matrix_make = function!(self, "SUNDenseMatrix", fn(i64, i64, Handle) -> Handle);
        let matrix_free = function!(self, "SUNMatDestroy", fn(Handle) -> ());
        let linear_make = function!(
            self,
            "SUNLinSol_Dense",
            fn(Handle, Handle, Handle) -> Handle
        );
        let linear_free = function!(self, "SUNLinSolFree", fn(Handle) -> c_int);
        let create = function!(self, "CVodeCreate", fn(c_int, Handle) -> Handle);
        let free = function!(self, "CVodeFree", fn(*mut Handle) -> ());
        let init = function!(self, "CVodeInit", fn(Handle, RhsFn, f64, Handle) -> c_int);
        let again = function!(self, "CVodeReInit", fn(Handle, f64, Handle) -> c_int);
        let tolerances = function!(self, "CVodeSStolerances", fn(Handle, f64, f64) -> c_int);
        let user_data = function!(self, "CVodeSetUserData", fn(Handle, Handle) -> c_int);
        let linear = function!(
            self,
            "CVodeSetLinearSolver",
            fn(Handle, Handle, Handle) -> c_int
        );
        let most_steps = function!(self, "CVodeSetMaxNumSteps", fn(Handle, c_long) -> c_int);
        let first_step = function!(self, "CVodeSetInitStep", fn(Handle, f64) -> c_int);
        let stop_time = function!(self, "CVodeSetStopTime", fn(Handle, f64) -> c_int);
        let solve = function!(
            self,
            "CVode",
            fn(Handle, f64, Handle, *mut f64, c_int) -> c_int
        );
        let steps_of = function!(self, "CVodeGetNumSteps", fn(Handle, *mut c_long) -> c_int);
        let setups_of = function!(
            self,
            "CVodeGetNumLinSolvSetups",
            fn(Handle, *mut c_long) -> c_int
        );
        let step_of = function!(self, "CVodeGetCurrentStep", fn(Handle, *mut f64) -> c_int);

        let mut y = start(recording);
        let nodes = y.len();
        let size = i64::try_from(nodes)?;
        let mut callback = Callback {
            rhs: Rhs::new(recording),
            nodes,
            data_of,
        };
        let mut states = Vec::new();
        let mut cost = Cost::default();
        let ok = |code: c_int, what: &str| -> Result<(), Fault> {
            if code < 0 {
                Err(format!("{what} returned {code}").into())
            } else {
                Ok(())
            }
        };
        // SAFETY: handles come from the library and are freed once, in the reverse order; `y` and `callback` outlive them and
        // are touched only between calls.
        unsafe {
            let mut context = ptr::null_mut();
            ok(
                context_create(ptr::null_mut(), &mut context),
                "SUNContext_Create",
            )?;
            let vector = vector_make(size, y.as_mut_ptr(), context);
            let matrix = matrix_make(size, size, context);
            let solver = linear_make(vector, matrix, context);
            let mut memory = create(BDF, context);
            let data: Handle = ptr::from_mut(&mut callback).cast();
            let mut march = || -> Result<(), Fault> {
                let first = recording.drives.first().ok_or("nothing to drive")?;
                ok(init(memory, rates, first.span_s.0, vector), "CVodeInit")?;
                ok(tolerances(memory, 0.0, absolute), "CVodeSStolerances")?;
                ok(user_data(memory, data), "CVodeSetUserData")?;
                ok(linear(memory, solver, matrix), "CVodeSetLinearSolver")?;
                ok(most_steps(memory, MOST_STEPS), "CVodeSetMaxNumSteps")?;
                let (mut reached, mut step, mut started) = (0.0, 0.0_f64, false);
                let count = |cost: &mut Cost| {
                    let (mut steps, mut setups) = (0, 0);
                    steps_of(memory, &mut steps);
                    setups_of(memory, &mut setups);
                    cost.steps += steps.unsigned_abs();
                    cost.factorisations += setups.unsigned_abs();
                };
                for drive in &recording.drives {
                    let (t0, t1) = drive.span_s;
                    if t1 > t0 {
                        (*data.cast::<Callback>()).rhs.enter(drive);
                        if restart && started {
                            count(&mut cost);
                            ok(again(memory, t0, vector), "CVodeReInit")?;
                            ok(first_step(memory, step.min(t1 - t0)), "CVodeSetInitStep")?;
                        }
                        started = true;
                        ok(stop_time(memory, t1), "CVodeSetStopTime")?;
                        ok(solve(memory, t1, vector, &mut reached, NORMAL), "CVode")?;
                        step_of(memory, &mut step);
                    }
                    let now = std::slice::from_raw_parts(data_of(vector), nodes);
                    states.extend_from_slice(now);
                }
                count(&mut cost);
                Ok(())
            };
            let outcome = march();
            free(&mut memory);
            linear_free(solver);
            matrix_free(matrix);
            vector_free(vector);
            context_free(&mut context);
            outcome?;
        }
        cost.rhs = callback.rhs.calls;
        Ok((states, cost))
    }
}
