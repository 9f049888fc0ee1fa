namespace MeshTrace.Analysis.Keys;

/// <summary>How a key came to be known.</summary>
public enum KeyOrigin : byte
{
    /// <summary>By the user: description, command line, file, environment.</summary>
    Given,

    /// <summary>From a decrypted Config message.</summary>
    ConfigMessage,

    /// <summary>From a provisioning whose private key was given.</summary>
    Provisioning,
}

/// <summary>How the IV index of a subnet came to be known.</summary>
public enum IvIndexOrigin : byte
{
    Unknown,

    /// <summary>From a beacon whose authentication value was right.</summary>
    Beacon,

    /// <summary>From the user or the description, confirmed by a NetMIC.</summary>
    Given,

    /// <summary>Searched for upward from 0 until a NetMIC was right.</summary>
    Searched,

    /// <summary>From the provisioning data of a provisioning whose private key was given.</summary>
    Provisioning,
}
