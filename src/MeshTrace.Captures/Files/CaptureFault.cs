namespace MeshTrace.Captures.Files;

/// <summary>Why a file could not be opened as a capture.</summary>
public enum CaptureFault : byte
{
    /// <summary>There is no file of that name.</summary>
    Missing,

    /// <summary>The name belongs to a directory.</summary>
    Directory,

    /// <summary>The file is there but cannot be read: permission, device error, in use.</summary>
    Unreadable,

    /// <summary>Not one octet in it.</summary>
    Empty,

    /// <summary>The file holds text.</summary>
    Text,

    /// <summary>The file is packed, and not with gzip.</summary>
    PackedOtherwise,

    /// <summary>The file is packed with gzip, and its very beginning cannot be unpacked.</summary>
    PackingDamaged,

    /// <summary>The first octets are those of no capture format that is read here.</summary>
    NotACapture,

    /// <summary>A capture whose file header is cut or contradicts itself.</summary>
    BadHeader,

    /// <summary>A capture of a format version that is not read here.</summary>
    UnsupportedVersion,

    /// <summary>A BTSnoop file of a datalink that is not read here.</summary>
    UnsupportedDatalink,
}
