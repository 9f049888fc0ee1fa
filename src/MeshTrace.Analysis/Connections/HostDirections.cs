using System.Runtime.InteropServices;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Connections;

/// <summary>Which way round each host's log writes the direction word of link type 201, as far as it is known.</summary>
internal sealed class HostDirections
{
    private readonly Dictionary<int, bool> _reversed = [];

    /// <summary>Learns from a frame, and tells how its own word is to be read.</summary>
    public bool IsReversed(in CapturedFrame frame)
    {
        if (frame.LinkType != LinkType.HciH4WithDirection)
            return false;
        ref bool reversed = ref CollectionsMarshal.GetValueRefOrAddDefault(_reversed, frame.Receiver, out _);
        return reversed = ConnectionReader.TellsReversedWord(in frame) ?? reversed;
    }
}
