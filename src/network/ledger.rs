//! The ledger: heat flows that are summed over time beside the temperatures.
//!
//! Each channel is integrated by the same solver as the temperatures, so that means and the audit
//! are as exact as the run itself.

/// A heat flow that is summed over the run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Channel {
    /// Energy into the car: fuel, motoring, sun.
    In,
    /// Energy out of the car, net of what outside air brings in.
    Out,
    /// Fuel power.
    Fuel,
    /// Brake power and accessories.
    Brake,
    /// Cylinder heat to block and coolant.
    CylinderHeat,
    /// Friction heat to oil and block.
    Friction,
    /// Chemical energy leaving the cylinders unburnt.
    Unburnt,
    /// Heat in the exhaust gas at the ports, over the charge's own enthalpy.
    GasHeat,
    /// Enthalpy of the gas leaving the last element, relative to ambient.
    Tail,
    /// Work taken by the turbine.
    TurbineWork,
    /// Unburnt fuel burnt in the catalyst.
    CatalystHeat,
    /// Gas to wall of exhaust part.
    GasToPart(usize),
    /// Body to air by convection.
    BodyConvection(usize),
    /// Body to other surfaces by radiation.
    BodyRadiation(usize),
    /// Radiator to bay air.
    RadiatorToAir,
    /// Charge cooler to bay air.
    CoolerToAir,
    /// Compressor work into the charge.
    CompressorWork,
    /// Wall of an intake duct to the charge.
    DuctToCharge(usize),
    /// Charge to cooler core.
    ChargeToCooler,
    /// Cylinder head to charge in the ports.
    PortToCharge,
    /// Seconds with the engine running.
    RunningSeconds,
}

/// The channels of a network in storage order.
#[derive(Debug, Clone, Default)]
pub struct Ledger {
    channels: Vec<Channel>,
}

impl Ledger {
    /// Index of a channel, made when new.
    pub fn index(&mut self, channel: Channel) -> usize {
        self.find(channel).unwrap_or_else(|| {
            self.channels.push(channel);
            self.channels.len() - 1
        })
    }

    /// Index of a channel, if it is kept.
    pub fn find(&self, channel: Channel) -> Option<usize> {
        self.channels.iter().position(|c| *c == channel)
    }

    /// Number of channels.
    pub fn len(&self) -> usize {
        self.channels.len()
    }

    /// True without channels.
    pub fn is_empty(&self) -> bool {
        self.channels.is_empty()
    }
}
