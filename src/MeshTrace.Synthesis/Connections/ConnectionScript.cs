namespace MeshTrace.Synthesis.Connections;

/// <summary>One PDU of the Attribute Protocol in a script.</summary>
/// <param name="TimeUs">When it is handed to the lower layers, from the begin of the story.</param>
/// <param name="FromClient">The phone sends it, which is the central and the client.</param>
/// <param name="AttPdu">The PDU.</param>
public sealed record ScriptedPdu(long TimeUs, bool FromClient, byte[] AttPdu);

/// <summary>A connection of a phone, independent of how it is recorded.</summary>
public sealed class ConnectionScript
{
    public required ulong Central { get; init; }
    public required ulong Peripheral { get; init; }

    /// <summary>What the peripheral advertises before: service data of 0x1827 or 0x1828 with the UUID in front.</summary>
    public required byte[] ServiceData { get; init; }
    public required long BeginUs { get; init; }
    public long EndUs { get; internal set; }
    public List<ScriptedPdu> Pdus { get; } = [];
}
