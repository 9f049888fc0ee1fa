using MeshTrace.Protocol.Provisioning;

namespace MeshTrace.Synthesis.Nodes.Provisioning;

/// <summary>A PB-ADV PDU on the air, as the two ends of a link understand it (Mesh Protocol 1.1 §5.2.1, §5.3).</summary>
internal abstract record ProvisioningCargo(uint LinkId, bool FromDevice);

/// <summary>Link Open, for the device of this UUID.</summary>
internal sealed record LinkOpenCargo(uint LinkId, ProvisionerEnd By) : ProvisioningCargo(LinkId, false);

internal sealed record LinkAckCargo(uint LinkId) : ProvisioningCargo(LinkId, true);

internal sealed record LinkCloseCargo(uint LinkId, bool FromDevice, LinkCloseReason Reason) : ProvisioningCargo(LinkId, FromDevice);

/// <summary>One segment of a transaction.</summary>
internal sealed record SegmentCargo(uint LinkId, bool FromDevice, byte Number, byte[] Pdu, int Segment, int Segments) : ProvisioningCargo(LinkId, FromDevice);

/// <summary>Transaction Acknowledgment: from the end that received.</summary>
internal sealed record TransactionAckCargo(uint LinkId, bool FromDevice, byte Number) : ProvisioningCargo(LinkId, FromDevice);
