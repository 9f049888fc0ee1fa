namespace MeshTrace.Captures.Udp;

/// <summary>What became of a frame of an IP network.</summary>
public enum UdpFate : byte
{
    /// <summary>No IP, or no UDP in it.</summary>
    NotUdp,

    /// <summary>UDP to another port.</summary>
    OtherPort,

    /// <summary>A fragment of an IP packet. Fragments are not put together: what a receiver hears fits one packet.</summary>
    Fragment,

    /// <summary>The capture cut it before the end of its headers.</summary>
    CutInHeaders,

    /// <summary>Its headers contradict themselves.</summary>
    Malformed,

    /// <summary>A datagram for the port; the capture may have cut its end.</summary>
    Datagram,
}
