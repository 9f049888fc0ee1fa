namespace MeshTrace.Protocol.UpperTransport.Control;

/// <summary>What a Heartbeat message tells beside its fields (Mesh Protocol 1.1 §3.6.7.3).</summary>
public static class Heartbeat
{
    public const byte Opcode = 0x0A;

    /// <summary>
    /// Hops that a Heartbeat took: InitTTL - RxTTL + 1, where 1 is straight from the originator. Null if the received TTL is above the first,
    /// which no relay can have made.
    /// </summary>
    /// <param name="initTtl">InitTTL of the message.</param>
    /// <param name="receivedTtl">TTL of the Network PDU that brought it.</param>
    public static int? Hops(int initTtl, int receivedTtl) => receivedTtl > initTtl ? null : initTtl - receivedTtl + 1;
}
