namespace MeshTrace.Protocol.Link;

/// <summary>Reads what a captured frame holds at the link layer, for every link type that carries Bluetooth Low Energy.</summary>
/// <remarks>
/// Link types by the public link-layer header type registry: 251, 256, 272 from the air; 187, 201, 254 and the two BTSnoop forms without
/// frame
/// header from a host controller. A frame from the air gives one advertisement, with the problem in it if there is one. HCI packets give
/// one
/// for each report and one for ACL data; commands, other events, and SCO or isochronous data give none.
/// </remarks>
public static class LinkReader
{
    /// <summary>
    /// Call with position 0, then again with what it left, until it returns false. Allocates nothing, except one buffer a thread the first
    /// time a whitened packet comes; such an advertisement is valid only until the next call on the same thread.
    /// </summary>
    public static bool TryReadNext(in CapturedFrame frame, ref int position, out Advertisement advertisement)
    {
        switch (frame.LinkType.Number)
        {
            case 251 or 256 or 272:
                if (position != 0)
                    break;
                position = int.MaxValue;
                return frame.LinkType.Number switch
                {
                    251 => LeFrameReader.ReadBare(frame, out advertisement),
                    256 => LeFrameReader.ReadWithRadioHeader(frame, out advertisement),
                    _ => LeFrameReader.ReadWithBoardHeader(frame, out advertisement),
                };
            case 187 or 201 or 254 or 0x10000 + 1001 or 0x10000 + 2001:
                return HciReader.TryReadNext(frame, ref position, out advertisement);
            default:
                if (position != 0)
                    break;
                position = int.MaxValue;
                advertisement = new Advertisement(LinkProblem.UnsupportedLinkType);
                return true;
        }
        advertisement = default;
        return false;
    }
}
